vim.filetype.add({ extension = { prep = 'prep' } })
