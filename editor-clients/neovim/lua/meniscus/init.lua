local M = {}

M.install_hint = 'Install it from its source folder with `cargo install --path server/meniscus`, '
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

---@param lines string[]
---@param cursor integer the cursor's line, from 1
---@return integer? scale the number of the `scale` line of the plan around the cursor, from 1
local function scale_line(lines, cursor)
  local function begins(line, word)
    return lines[line]:match('^%s*' .. word .. '%f[%s%z]') ~= nil
  end
  local first = cursor
  while first > 1 and not begins(first, 'plan') do
    first = first - 1
  end
  for line = first, #lines do
    if line > first and begins(line, 'plan') then
      return nil
    elseif begins(line, 'scale') then
      return line
    end
  end
end

---@param text string
---@return string
local function plain(text)
  return (text:gsub('×', 'x'):gsub('÷', '/'):gsub('µ', 'u'):gsub('μ', 'u'))
end

--- Whether the title of a rescaling action is what the user asked for: a factor (`2x`, `x 2`, `/ 2`, `0.5x`)
--- or the new scale (`10 mmol`).
---@param title string
---@param target string
---@return boolean
local function is_to(title, target)
  title, target = plain(title), vim.trim(plain(target))
  local sign, number = title:match('%(([x/]) ([%d.]+)%)')
  local offered = tonumber(number)
  if offered and sign == '/' then
    offered = 1 / offered
  end
  local divisor = tonumber(target:match('^/%s*([%d.]+)$'))
  local factor = divisor and 1 / divisor
    or tonumber(target:match('^([%d.]+)%s*x$') or target:match('^x%s*([%d.]+)$'))
  if factor then
    return offered ~= nil and math.abs(offered - factor) < 1e-9 * factor
  end
  local value, unit = target:match('^([%d.]+)%s*(%a+)$')
  local new_value, new_unit = title:match('([%d.]+) (%a+)')
  return unit ~= nil and unit == new_unit and tonumber(value) == tonumber(new_value)
end

---@param client vim.lsp.Client
---@param action lsp.CodeAction
local function apply(client, action)
  vim.lsp.util.apply_workspace_edit(action.edit, client.offset_encoding)
end

--- Rescales the plan around the cursor.
---@param target string what to rescale it to, as `2x` or `10 mmol`; asks when empty
function M.rescale(target)
  local function say(message)
    vim.notify('Meniscus: ' .. message, vim.log.levels.WARN)
  end
  local buffer = vim.api.nvim_get_current_buf()
  local client = vim.lsp.get_clients({ bufnr = buffer, name = 'meniscus' })[1]
  if not client then
    return say(M.trouble() or 'the server does not run here; `:checkhealth meniscus` tells why')
  end
  local lines = vim.api.nvim_buf_get_lines(buffer, 0, -1, true)
  local line = scale_line(lines, vim.api.nvim_win_get_cursor(0)[1])
  if not line then
    return say('the plan at the cursor has no scale; add a line such as `scale 5.00 mmol KEY`')
  end
  local position = { line = line - 1, character = #lines[line]:match('^%s*') }
  client:request('textDocument/codeAction', {
    textDocument = vim.lsp.util.make_text_document_params(buffer),
    range = { start = position, ['end'] = position },
    context = { only = { 'refactor.rewrite' }, diagnostics = {} },
  }, function(failure, actions)
    if failure then
      return say(failure.message)
    end
    local offers = vim.iter(actions or {}):filter(function(action)
      return action.edit ~= nil
    end)
    offers = offers:totable()
    if #offers == 0 then
      return say(('the plan cannot be rescaled; see what is reported for line %d'):format(line))
    end
    if target == '' then
      return vim.ui.select(offers, {
        prompt = 'Rescale',
        format_item = function(action)
          return action.title
        end,
      }, function(action)
        if action then
          apply(client, action)
        end
      end)
    end
    for _, action in ipairs(offers) do
      if is_to(action.title, target) then
        return apply(client, action)
      end
    end
    local titles = vim.tbl_map(function(action)
      return '\n  ' .. action.title
    end, offers)
    say(('`%s` is not on offer. There are:%s'):format(target, table.concat(titles)))
  end, buffer)
end

return M
