local M = { passed = 0, failed = 0 }

-- Long enough for a debug build on a busy machine; nothing waits this long unless it fails.
local PATIENCE = 10000

-- Standard output is the report; the messages of Neovim go to standard error.
---@param line string
local function report(line)
  io.stdout:write(line, '\n')
  io.stdout:flush()
end

---@param name string
---@param test fun()
function M.test(name, test)
  local fine, why = xpcall(test, function(problem)
    return type(problem) == 'table' and problem.message or debug.traceback(problem, 2)
  end)
  if fine then
    M.passed = M.passed + 1
    report('ok - ' .. name)
  else
    M.failed = M.failed + 1
    report(('not ok - %s\n  %s'):format(name, (why:gsub('\n', '\n  '))))
  end
end

---@param message string
function M.fail(message)
  error({ message = message })
end

--- Waits until `condition` holds; `state` tells what is there instead when it never does.
---@generic T
---@param what string
---@param condition fun(): T
---@param state? fun(): string
---@return T
function M.wait(what, condition, state)
  local got
  local held = vim.wait(PATIENCE, function()
    got = condition()
    return got ~= nil and got ~= false
  end, 20)
  if not held then
    M.fail(('waited %d s in vain for %s%s'):format(PATIENCE / 1000, what, state and '; there is ' .. state() or ''))
  end
  return got
end

---@param what string
---@param expected any
---@param got any
function M.same(what, expected, got)
  if not vim.deep_equal(expected, got) then
    M.fail(('%s: expected\n%s\ngot\n%s'):format(what, vim.inspect(expected), vim.inspect(got)))
  end
end

--- Ends Neovim, with 0 or with 10 after a failure: the codes below are those of a Neovim that breaks off.
function M.finish()
  report(('# passed %d, failed %d'):format(M.passed, M.failed))
  vim.cmd.cquit(M.failed == 0 and M.passed > 0 and 0 or 10)
end

return M
