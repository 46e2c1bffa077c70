if vim.g.loaded_meniscus then
  return
end
vim.g.loaded_meniscus = true

if vim.fn.has('nvim-0.11') == 0 then
  vim.notify_once('Meniscus needs Neovim 0.11 or later', vim.log.levels.WARN)
  return
end

local group = vim.api.nvim_create_augroup('meniscus', {})

vim.api.nvim_create_autocmd('FileType', {
  group = group,
  pattern = 'prep',
  desc = 'Say so when the server is missing',
  callback = function()
    local trouble = require('meniscus').trouble()
    if trouble then
      vim.notify_once(trouble, vim.log.levels.WARN)
    end
  end,
})

vim.api.nvim_create_autocmd('LspAttach', {
  group = group,
  desc = 'Show the amounts behind the lines of a plan',
  callback = function(event)
    local client = vim.lsp.get_client_by_id(event.data.client_id)
    if client and client.name == 'meniscus' and vim.g.meniscus_inlay_hints ~= false then
      vim.lsp.inlay_hint.enable(true, { bufnr = event.buf })
    end
  end,
})

vim.api.nvim_create_user_command('MeniscusRescale', function(command)
  require('meniscus').rescale(command.args, command.bang)
end, { nargs = '?', bang = true, desc = 'Rescale the plan at the cursor, as to `2x`, `10 mmol` or `5 g of KEY`' })

vim.lsp.enable('meniscus')
