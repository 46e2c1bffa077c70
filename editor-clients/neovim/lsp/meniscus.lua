---@type vim.lsp.Config
return {
  cmd = require('meniscus').command(),
  filetypes = { 'prep' },
  root_markers = { '.git' },
}
