---@type vim.lsp.Config
return {
  cmd = require('meniscus').command(),
  filetypes = { 'prep' },
  root_markers = { '.git' },
  on_init = function(_, result)
    local trouble = require('meniscus').mismatch(vim.tbl_get(result, 'serverInfo', 'version'))
    if trouble then
      vim.notify_once(trouble, vim.log.levels.WARN)
    end
  end,
}
