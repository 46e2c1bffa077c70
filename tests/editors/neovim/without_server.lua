-- What a user sees who has not installed the server. Arguments: a plan.
local harness = dofile(vim.fs.dirname(arg[0]) .. '/harness.lua')
local test, fail, same = harness.test, harness.fail, harness.same

test('a missing server is said once, with what to do', function()
  local said = {}
  vim.notify = function(message)
    table.insert(said, message)
  end
  vim.cmd.edit(vim.fn.fnameescape(arg[1]))
  vim.cmd.new()
  vim.bo.filetype = 'prep'
  same('messages', 1, #said)
  for _, part in ipairs({ 'cargo install --path server/meniscus', 'vim.g.meniscus_server' }) do
    if not said[1]:find(part, 1, true) then
      fail(('`%s` is not in: %s'):format(part, said[1]))
    end
  end
end)

test(':MeniscusRescale says that the server is missing', function()
  local said
  vim.notify = function(message)
    said = message
  end
  vim.cmd.MeniscusRescale('2x')
  if not (said and said:find('there is no program', 1, true)) then
    fail('it says: ' .. tostring(said))
  end
end)

test(':checkhealth meniscus tells what to do', function()
  vim.cmd('checkhealth meniscus')
  local report = table.concat(vim.api.nvim_buf_get_lines(0, 0, -1, true), '\n')
  if not report:find('cargo install --path server/meniscus', 1, true) then
    fail(report)
  end
end)

harness.finish()
