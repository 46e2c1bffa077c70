autocmd BufNewFile,BufRead *.prep setfiletype prep
