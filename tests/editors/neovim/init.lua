-- What the README of the client tells the user to write, and the encoding of positions that this run is about.
local here = vim.fs.dirname(debug.getinfo(1, 'S').source:sub(2))
vim.opt.runtimepath:append(vim.fs.normalize(here .. '/../../../editor-clients/neovim'))

local encoding = vim.env.POSITION_ENCODING
if encoding then
  vim.lsp.config('meniscus', { capabilities = { general = { positionEncodings = { encoding } } } })
end
