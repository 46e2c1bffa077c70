local M = {}

--- The version of this client.
M.version = '0.1.0'

M.install_hint = 'Install it from its source folder with `cargo install --path server/meniscus --locked`, '
  .. "or set `vim.g.meniscus_server` to the program's path in your init.lua, then restart Neovim."

--- The command that starts the server: the program that `vim.g.meniscus_server` names, or else `meniscus` on
--- the search path, or else where cargo installs programs, which a desktop's Neovim often does not search.
---@return string[]
function M.command()
  local program = vim.g.meniscus_server
  if program then
    program = vim.fs.normalize(program)
  elseif vim.fn.executable('meniscus') == 1 then
    program = 'meniscus'
  else
    local cargo = vim.env.CARGO_HOME or vim.fs.joinpath(vim.env.HOME or '~', '.cargo')
    local installed = vim.fs.joinpath(cargo, 'bin', 'meniscus')
    program = vim.fn.executable(installed) == 1 and installed or 'meniscus'
  end
  return { program, 'serve', '--stdio' }
end

--- Why the server cannot be started and what to do about it, or nothing where it can.
---@return string?
function M.trouble()
  local cmd = vim.lsp.config.meniscus.cmd
  if type(cmd) ~= 'table' or vim.fn.executable(cmd[1]) == 1 then
    return nil
  end
  return ('Meniscus: there is no program `%s`, so plans are not checked. %s'):format(cmd[1], M.install_hint)
end

--- What to do where client and server are of different versions, or nothing where they fit.
---@param server? string
---@return string?
function M.mismatch(server)
  local function release(version)
    return version:match('^%d+%.%d+')
  end
  if server and release(server) == release(M.version) then
    return nil
  end
  return ('Meniscus: the server is of version %s and this client of %s, so that some of it may not work. %s'):format(
    server or 'unknown',
    M.version,
    'Install both anew from the same source folder, and restart Neovim.'
  )
end

---@param message string
local function say(message)
  vim.notify('Meniscus: ' .. message, vim.log.levels.WARN)
end

--- What the user should know before a plan is rescaled, as lines.
---@param summary table what the server says of it
---@return string[]
local function remarks(summary)
  local lines = {}
  for _, wrong in ipairs(summary.newlyWrong) do
    table.insert(lines, ('line %d, new %s: %s'):format(wrong.line + 1, wrong.severity, wrong.message))
  end
  for _, left in ipairs(summary.leftAlone) do
    table.insert(lines, ('line %d: %s was left alone (%s)'):format(left.line + 1, left.text, left.place))
  end
  return vim.list_extend(lines, summary.notes)
end

--- Rescales the plan around the cursor.
--- Asks when the goal is empty.
---@param goal string `2x`, `/ 2`, `10 mmol`, `2.0 g of KEY`, `bottles`, `bottle of KEY`, `flask 250 mL`, `smallest`
---@param equipment? boolean also write the sizes of equipment that the goal needs; so does `!` at its end
function M.rescale(goal, equipment)
  local buffer = vim.api.nvim_get_current_buf()
  local client = vim.lsp.get_clients({ bufnr = buffer, name = 'meniscus' })[1]
  if not client then
    return say(M.trouble() or 'the server does not run here; `:checkhealth meniscus` tells why')
  end
  if vim.trim(goal) == '' then
    return vim.ui.input({ prompt = 'Rescale to (2x, 10 mmol, 2.0 g of KEY, bottles, flask 250 mL): ' }, function(answer)
      if answer and vim.trim(answer) ~= '' then
        M.rescale(answer, equipment)
      end
    end)
  end
  local place = vim.lsp.util.make_position_params(0, client.offset_encoding)
  client:request('workspace/executeCommand', {
    command = 'meniscus.rescale',
    arguments = {
      {
        uri = place.textDocument.uri,
        position = place.position,
        goal = (goal:gsub('%s*!$', '')),
        equipment = equipment or goal:match('!$') ~= nil,
        version = vim.lsp.util.buf_versions[buffer],
      },
    },
  }, function(failure, summary)
    if failure then
      return say(failure.message)
    end
    vim.notify('Meniscus: ' .. summary.title)
    local lines = remarks(summary)
    if #lines > 0 then
      say(table.concat(lines, '\n'))
    end
  end, buffer)
end

return M
