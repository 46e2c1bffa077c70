local M = {}

function M.check()
  local meniscus = require('meniscus')
  vim.health.start('meniscus')
  if vim.fn.has('nvim-0.11') == 0 then
    vim.health.error('Neovim is too old', 'Install Neovim 0.11 or later')
    return
  end
  if not vim.g.loaded_meniscus then
    vim.health.error(
      'The plugin is not loaded',
      'Put `vim.opt.runtimepath:append("…/editor-clients/neovim")` in your init.lua and restart Neovim'
    )
  end

  local cmd = vim.lsp.config.meniscus.cmd
  if type(cmd) ~= 'table' then
    vim.health.info('The server is started by a function of your configuration')
  elseif vim.fn.executable(cmd[1]) == 0 then
    vim.health.error(('There is no program `%s`'):format(cmd[1]), meniscus.install_hint)
  else
    local path = vim.fn.exepath(cmd[1])
    local started, process = pcall(vim.system, { path, '--version' }, { text = true, timeout = 5000 })
    local result = started and process:wait()
    if result and result.code == 0 then
      local version = vim.trim(result.stdout):match('%S+$')
      vim.health.ok(('Server: %s, version %s'):format(path, version))
      local trouble = meniscus.mismatch(version)
      if trouble then
        vim.health.warn(trouble)
      end
    else
      local why = result and result.stderr or tostring(process)
      vim.health.error(('`%s --version` fails: %s'):format(path, vim.trim(why)), meniscus.install_hint)
    end
  end

  local clients = vim.lsp.get_clients({ name = 'meniscus' })
  if #clients == 0 then
    vim.health.info('No plan is open: the server starts with the first file that ends in .prep')
  end
  for _, client in ipairs(clients) do
    local files = vim.tbl_map(vim.api.nvim_buf_get_name, vim.tbl_keys(client.attached_buffers))
    vim.health.ok('The server is running for ' .. table.concat(files, ', '))
  end
end

return M
