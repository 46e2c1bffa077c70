if exists('g:loaded_meniscus')
  finish
endif
let g:loaded_meniscus = 1

" Each client is told of the server in its own way; what is said to one that is not there is never read.
let s:program = meniscus#program()

" https://github.com/yegappan/lsp
autocmd User LspSetup call LspAddServer([{
      \ 'name': 'meniscus', 'filetype': 'prep', 'path': s:program, 'args': ['serve'],
      \ 'rootSearch': ['inventory.toml', 'meniscus.toml', '.git/'],
      \ }])

" https://github.com/prabirshrestha/vim-lsp
autocmd User lsp_setup call lsp#register_server({
      \ 'name': 'meniscus', 'allowlist': ['prep'], 'cmd': [s:program, 'serve'],
      \ })

" https://github.com/ycm-core/YouCompleteMe
let g:ycm_language_server = get(g:, 'ycm_language_server', []) + [{
      \ 'name': 'meniscus', 'filetypes': ['prep'], 'cmdline': [s:program, 'serve'],
      \ 'project_root_files': ['inventory.toml', 'meniscus.toml', '.git'],
      \ }]

command! -bang -nargs=+ MeniscusRescale call meniscus#rescale(<q-args>, <bang>0)
