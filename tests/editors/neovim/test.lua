-- A plan in Neovim, as a user has it in hand. Arguments: the plan, and a folder for the copies.
local here = vim.fs.dirname(arg[0])
local harness = dofile(here .. '/harness.lua')
local test, fail, wait, same = harness.test, harness.fail, harness.wait, harness.same
local plan_path, folder = arg[1], arg[2]

---@param path string
---@return string
local function read(path)
  return vim.fn.readblob(path)
end

local original = read(plan_path)
local copies = 0

--- Opens a new file with this text and waits until the server has looked at it.
---@param text string
---@return string path
local function open(text)
  copies = copies + 1
  local path = ('%s/%d µ°.prep'):format(folder, copies)
  local file = assert(io.open(path, 'wb'))
  file:write(text)
  file:close()
  local reported = false
  vim.api.nvim_create_autocmd('DiagnosticChanged', {
    callback = function(event)
      reported = reported or vim.api.nvim_buf_get_name(event.buf) == path
      return reported
    end,
  })
  vim.cmd.edit(vim.fn.fnameescape(path))
  wait('the server to attach', function()
    return vim.lsp.get_clients({ bufnr = 0, name = 'meniscus' })[1]
  end, function()
    return 'this in the messages: ' .. vim.fn.execute('messages')
  end)
  wait('a first report of findings', function()
    return reported
  end)
  return path
end

local function lines()
  return vim.api.nvim_buf_get_lines(0, 0, -1, true)
end

---@param text string
---@return integer number of the first line that contains it
---@return integer column of its last character
local function find(text)
  for number, line in ipairs(lines()) do
    local _, last = line:find(text, 1, true)
    if last then
      return number, last
    end
  end
  fail(('no line contains `%s`'):format(text))
end

--- Puts the cursor on the last character of this text.
---@param text string
local function go_to(text)
  local line, column = find(text)
  vim.api.nvim_win_set_cursor(0, { line, column - 1 })
end

--- Types keys as a user does, so that what they change is undone together and apart from what went before.
---@param keys string
local function type_keys(keys)
  vim.cmd('let &g:undolevels = &g:undolevels')
  vim.api.nvim_feedkeys(vim.keycode(keys), 'xt', false)
end

---@return string
local function findings_text()
  local messages = vim.tbl_map(function(finding)
    return ('line %d: [%s] %s'):format(finding.lnum + 1, finding.code or '', finding.message)
  end, vim.diagnostic.get(0))
  return #messages == 0 and 'no finding' or table.concat(messages, '\n')
end

---@param what string
---@param is fun(finding: vim.Diagnostic): boolean
---@return vim.Diagnostic
local function wait_for_finding(what, is)
  return wait(what, function()
    return vim.iter(vim.diagnostic.get(0)):find(is)
  end, findings_text)
end

local function wait_for_no_finding()
  wait('the findings to go', function()
    return #vim.diagnostic.get(0) == 0
  end, findings_text)
end

--- What `K` shows with the cursor on this text.
---@param text string
---@return string
local function hover(text)
  go_to(text)
  vim.lsp.buf.hover()
  local window = wait('the hover of `' .. text .. '`', function()
    return vim.iter(vim.api.nvim_list_wins()):find(function(window)
      return vim.api.nvim_win_get_config(window).relative ~= ''
    end)
  end)
  local shown = vim.api.nvim_buf_get_lines(vim.api.nvim_win_get_buf(window), 0, -1, true)
  vim.api.nvim_win_close(window, true)
  return table.concat(shown, '\n')
end

--- Does the first action at the cursor whose title contains this, from the menu of the editor.
---@param title string
local function choose(title)
  local offered
  local tick = vim.api.nvim_buf_get_changedtick(0)
  local select = vim.ui.select
  vim.ui.select = function(items, options, done)
    offered = vim.tbl_map(options.format_item, items)
    for index, item in ipairs(items) do
      if offered[index]:find(title, 1, true) then
        return done(item, index)
      end
    end
    done(nil, nil)
  end
  vim.lsp.buf.code_action()
  local fine, why = pcall(wait, ('the action `%s`'):format(title), function()
    return vim.api.nvim_buf_get_changedtick(0) ~= tick
  end, function()
    return vim.inspect(offered)
  end)
  vim.ui.select = select
  if not fine then
    error(why)
  end
end

--- The lines with each of these texts replaced, once, by its partner.
---@param from string[]
---@param replacements [string, string][]
---@return string[]
local function with(from, replacements)
  local changed = vim.deepcopy(from)
  for _, pair in ipairs(replacements) do
    local done = false
    for number, line in ipairs(changed) do
      local first, last = line:find(pair[1], 1, true)
      if first and not done then
        changed[number] = line:sub(1, first - 1) .. pair[2] .. line:sub(last + 1)
        done = true
      end
    end
    assert(done, pair[1])
  end
  return changed
end

--- The texts of the plan that change when its scale is doubled: every amount, and nothing else.
local DOUBLED = {
  { 'scale 5.00 mmol', 'scale 10.0 mmol' },
  { '10 ppm water, 25 mL', '10 ppm water, 50 mL' },
  { 'sat. aq., 15 mL', 'sat. aq., 30 mL' },
  { 'pentane, 90 mL', 'pentane, 180 mL' },
  { 'add thf 20 mL', 'add thf 40 mL' },
  { 'ketone in thf 4 mL', 'ketone in thf 8 mL' },
  { 'with thf 1 mL', 'with thf 2 mL' },
  { 'pentane, 3 x 20 mL', 'pentane, 3 x 40 mL' },
  { 'water, 2 x 20 mL', 'water, 2 x 40 mL' },
  { 'brine 20 mL', 'brine 40 mL' },
  { 'silica 10 g', 'silica 20 g' },
  { 'pentane 30 mL', 'pentane 60 mL' },
}

--- Rescales by `act`, then undoes it once.
---@param act fun()
---@param expected string[]
---@param path string
local function rescale_and_undo(act, expected, path)
  local before, bytes = lines(), read(path)
  vim.cmd('let &g:undolevels = &g:undolevels')
  local undo = vim.fn.undotree().seq_cur
  act()
  wait('the rescaled text', function()
    return not vim.deep_equal(lines(), before)
  end, function()
    return vim.fn.execute('messages')
  end)
  same('rescaled', expected, lines())
  same('entries in the undo history', undo + 1, vim.fn.undotree().seq_cur)
  type_keys('u')
  same('undone', before, lines())
  vim.cmd('silent write')
  same('the file after undoing', bytes, read(path))
end

test('the server speaks the encoding that was asked for', function()
  open(original)
  local client = vim.lsp.get_clients({ bufnr = 0, name = 'meniscus' })[1]
  same('encoding', vim.env.POSITION_ENCODING or 'utf-8', client.offset_encoding)
  same('filetype', 'prep', vim.bo.filetype)
end)

test('a sound plan has no findings', function()
  open(original)
  same('findings', 'no finding', findings_text())
end)

-- Worked by hand with the abridged standard atomic weights of CIAAW 2021 (H 1.0080, C 12.011, O 15.999,
-- P 30.974, Br 79.904) from the lines of the plan.
local AMOUNTS = {
  { '  ketone', { '771 mg' } }, -- C10H18O 154.25 g/mol × 5.00 mmol
  { '  salt', { '2.14 g' } }, -- C19H18BrP 357.23 g/mol × 6.00 mmol
  { '  base', { '2.30 mL' } }, -- 5.75 mmol at 2.5 mol/L
  { '  alkene', { '647 mg', '761 mg' } }, -- C11H20 152.28 g/mol × 5.00 mmol, and 85 % of it
}

for _, row in ipairs(AMOUNTS) do
  local key, amounts = row[1], row[2]
  test('the hover of' .. key:sub(2) .. ' shows ' .. table.concat(amounts, ' and '), function()
    open(original)
    local shown = hover(key)
    for _, amount in ipairs(amounts) do
      if not shown:find(amount, 1, true) then
        fail(('`%s` is not in:\n%s'):format(amount, shown))
      end
    end
  end)
end

test('the amounts stand behind the lines of the materials', function()
  open(original)
  local hints = wait('inlay hints', function()
    local hints = vim.lsp.inlay_hint.get({ bufnr = 0 })
    return #hints > 0 and hints
  end)
  for _, row in ipairs(AMOUNTS) do
    local line = find(row[1] .. ':')
    local hint = vim.iter(hints):find(function(hint)
      return hint.inlay_hint.position.line == line - 1
    end)
    for _, amount in ipairs(row[2]) do
      if not (hint and hint.inlay_hint.label:find(amount, 1, true)) then
        fail(('no hint `%s` on line %d, but %s'):format(amount, line, vim.inspect(hint)))
      end
    end
  end
end)

local function decimal_comma(finding)
  return finding.severity == vim.diagnostic.severity.ERROR and finding.code == 'decimal-comma'
end

test('a decimal comma is found while it is typed, and gone when it is undone', function()
  open(original)
  go_to('ketone in thf 4')
  type_keys('cw2,5<Esc>')
  local finding = wait_for_finding('a finding about the comma', decimal_comma)
  same('line', find('ketone in thf 2,5 mL'), finding.lnum + 1)
  type_keys('u')
  wait_for_no_finding()
end)

test('the fix of a finding mends the text', function()
  open(original)
  local sound = lines()
  go_to('ketone in thf 4')
  type_keys('cw4,0<Esc>')
  wait_for_finding('a finding about the comma', decimal_comma)
  go_to('ketone in thf 4,0')
  choose('4.0')
  same('mended', with(sound, { { 'thf 4 mL', 'thf 4.0 mL' } }), lines())
  wait_for_no_finding()
end)

local function undried_glass(finding)
  return finding.severity == vim.diagnostic.severity.WARN and finding.code == 'glassware-dryness'
end

test('glassware that nobody dried is found, until its line comes back', function()
  open(original)
  go_to('dry flask, bar')
  type_keys('dd')
  wait_for_finding('a finding about the glassware', undried_glass)
  type_keys('u')
  wait_for_no_finding()
end)

test('the fix for undried glassware silences the finding', function()
  open(original)
  go_to('dry flask, bar')
  type_keys('dd')
  local finding = wait_for_finding('a finding about the glassware', undried_glass)
  vim.api.nvim_win_set_cursor(0, { finding.lnum + 1, finding.col })
  choose('Dry flask')
  wait_for_no_finding()
end)

test('rescaling changes the amounts only, and one undo takes it back', function()
  local path = open(original)
  local expected = with(lines(), DOUBLED)
  go_to('scale')
  rescale_and_undo(function()
    choose('× 2')
  end, expected, path)
end)

for _, target in ipairs({ '2x', '× 2', '10 mmol' }) do
  test(':MeniscusRescale ' .. target, function()
    local path = open(original)
    local expected = with(lines(), DOUBLED)
    go_to('weigh alkene')
    rescale_and_undo(function()
      vim.cmd.MeniscusRescale(target)
    end, expected, path)
  end)
end

test(':MeniscusRescale says what there is instead of what it cannot do', function()
  open(original)
  local before, said = lines(), nil
  local notify = vim.notify
  vim.notify = function(message)
    said = message
  end
  vim.cmd.MeniscusRescale('by a lot')
  local fine, why = pcall(wait, 'a message', function()
    return said
  end)
  vim.notify = notify
  assert(fine, why)
  same('text', before, lines())
  if not (said:find('`by a lot`', 1, true) and said:find('10 mmol', 1, true)) then
    fail('it says: ' .. said)
  end
end)

-- One, two, three and four bytes of UTF-8; the last is two units of UTF-16.
local WIDE = 'over µ°Å·→🧪 of Åsa'

test('wide characters before an amount do not shift the edits of rescaling', function()
  local path = open((original:gsub('10 ppm water, 25 mL', '10 ppm water, ' .. WIDE .. ', 25 mL')))
  local replacements = vim.deepcopy(DOUBLED)
  replacements[2] = { WIDE .. ', 25 mL', WIDE .. ', 50 mL' }
  local expected = with(lines(), replacements)
  go_to('scale')
  rescale_and_undo(function()
    choose('× 2')
  end, expected, path)
end)

test('wide characters before a finding do not shift it or its fix', function()
  open((original:gsub('10 ppm water, 25 mL', '10 ppm water, ' .. WIDE .. ', 25 mL')))
  local sound = lines()
  wait_for_no_finding()
  go_to('Åsa, 25')
  type_keys('ciw25,0<Esc>')
  local finding = wait_for_finding('a finding about the comma', decimal_comma)
  local line = vim.api.nvim_buf_get_lines(0, finding.lnum, finding.lnum + 1, true)[1]
  same('the text found', '25,0 mL', line:sub(finding.col + 1, finding.end_col))
  go_to('Åsa, 25,0')
  choose('25.0')
  same('mended', with(sound, { { ', 25 mL', ', 25.0 mL' } }), lines())
end)

test('line ends of another system stay', function()
  local path = open((original:gsub('\n', '\r\n')))
  same('fileformat', 'dos', vim.bo.fileformat)
  same('findings', 'no finding', findings_text())
  local expected = with(lines(), DOUBLED)
  go_to('scale')
  rescale_and_undo(function()
    choose('× 2')
  end, expected, path)
end)

test(':checkhealth meniscus finds the server and its version', function()
  open(original)
  vim.cmd('checkhealth meniscus')
  local report = table.concat(lines(), '\n')
  if not report:find('Server: %S+meniscus, version %d+%.%d+%.%d+') or not report:find('running for', 1, true) then
    fail(report)
  end
end)

test('a server of another version is told of, and one that fits is not', function()
  local meniscus = require('meniscus')
  local root = vim.fs.normalize(here .. '/../../..')
  same('the version', read(root .. '/Cargo.toml'):match('\nversion = "([^"]+)"'), meniscus.version)
  local said = {}
  local notify, version = vim.notify, meniscus.version
  vim.notify = function(message)
    table.insert(said, message)
  end
  local function start()
    for _, client in ipairs(vim.lsp.get_clients({ name = 'meniscus' })) do
      client:stop(true)
    end
    wait('the server to stop', function()
      return #vim.lsp.get_clients({ name = 'meniscus' }) == 0
    end)
    open(original)
  end
  local fine, why = pcall(function()
    start()
    same('said of one that fits', {}, said)
    meniscus.version = '0.0.9'
    start()
    same('messages', 1, #said)
  end)
  vim.notify, meniscus.version = notify, version
  if not fine then
    error(why)
  end
  if not said[1]:find('version ' .. version .. ' and this client of 0.0.9', 1, true) then
    fail(said[1])
  end
end)

harness.finish()
