// A plan in VS Code, as a user has it in hand.
import { execFileSync } from 'node:child_process'
import { chmodSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs'
import { delimiter, dirname, join } from 'node:path'
import {
  FOLDER, MENISCUS, MENISCUS_ROOT, NOTIFICATIONS, Plan, STATUS, brokenAmounts, capabilities, close, command, contains, finish, insist,
  installExtension, isThere, note, open, picture, press, quieten, same, sheet, shown, test, thePage, type, wait, waitFor, writeJson,
} from './harness.mjs'
import { tokens } from './grammar.mjs'

const sound = readFileSync(join(MENISCUS_ROOT, 'examples/methylenation.prep'), 'utf8')
const client = join(MENISCUS_ROOT, 'editor-clients/vscode')
const plans = join(FOLDER, 'plans')
mkdirSync(plans)
const can = await capabilities()
const restricted = join(FOLDER, 'restricted')
mkdirSync(restricted)
// A folder names a program of its own, in each way that a folder could.
for (const folder of [plans, restricted]) {
  const trap = join(folder, 'meniscus')
  writeFileSync(trap, `#!/bin/sh\ntouch '${FOLDER}/ran'\n`)
  chmodSync(trap, 0o755)
  writeJson(join(folder, '.vscode/settings.json'), { 'meniscus.server.path': trap })
}

/** The text with each of these replaced, once, by its partner. */
function having(text, ...replacements) {
  return replacements.reduce((text, [from, to]) => {
    if (!text.includes(from)) throw new Error(`no \`${from}\` in the plan`)
    return text.replace(from, () => to)
  }, text)
}

// Every amount, mass and volume of the plan times two, in as many decimals as were written, or one that the doubled
// number needs no more; sizes of equipment follow only where that is agreed to.
const DOUBLED = [
  ['scale 5.00 mmol', 'scale 10.0 mmol'], ['water, 25 mL', 'water, 50 mL'], ['aq., 15 mL', 'aq., 30 mL'],
  ['pentane, 90 mL', 'pentane, 180 mL'], ['add thf 20 mL', 'add thf 40 mL'], ['in thf 4 mL', 'in thf 8 mL'],
  ['with thf 1 mL', 'with thf 2 mL'], ['3 x 20 mL', '3 x 40 mL'], ['water, 2 x 20 mL', 'water, 2 x 40 mL'],
  ['brine 20 mL', 'brine 40 mL'], ['silica 10 g', 'silica 20 g'], ['with pentane 30 mL', 'with pentane 60 mL'],
]
const LARGER = [['100 mL two-neck', '250 mL two-neck'], ['5 mL, 10 mL and 20 mL glass', '5 mL, 10 mL and 50 mL glass']]
// Half of it fits into the equipment, so that nothing waits for a yes.
const HALVED = [
  ['scale 5.00 mmol', 'scale 2.50 mmol'], ['water, 25 mL', 'water, 12.5 mL'], ['aq., 15 mL', 'aq., 7.5 mL'],
  ['pentane, 90 mL', 'pentane, 45 mL'], ['add thf 20 mL', 'add thf 10 mL'], ['in thf 4 mL', 'in thf 2 mL'],
  ['with thf 1 mL', 'with thf 0.5 mL'], ['3 x 20 mL', '3 x 10 mL'], ['water, 2 x 20 mL', 'water, 2 x 10 mL'],
  ['brine 20 mL', 'brine 10 mL'], ['silica 10 g', 'silica 5 g'], ['with pentane 30 mL', 'with pentane 15 mL'],
]
// One, two, three and four bytes of UTF-8; the last is two units of UTF-16.
const WIDE = 'over µ°Å·→🧪 of Åsa'

const INPUT = '.quick-input-widget'
const HINTS = '.view-lines'
const LENSES = '.codelens-decoration'
const clean = () => waitFor(STATUS, 'the status', 'Meniscus')

await test('the extension is packaged and installs', async () => {
  contains(installExtension(join(client, 'meniscus.vsix')), 'successfully installed')
})

await tokens(test)

quieten()
const workbench = await open(plans, { path: ['.', dirname(MENISCUS), process.env.PATH].join(delimiter), trusted: true })
await command('View: Close Primary Side Bar').catch(() => undefined)

await test('a plan opens, nothing is found in a sound one, and the amounts stand behind the lines', async () => {
  const plan = await Plan.open(plans, sound)
  await clean()
  // Worked by hand with the abridged standard atomic weights of CIAAW 2021 (H 1.0080, C 12.011, O 15.999,
  // P 30.974, Br 79.904): C10H18O 154.25 g/mol × 5.00 mmol, C19H18BrP 357.23 g/mol × 6.00 mmol, 5.75 mmol at 2.5 mol/L.
  await waitFor(HINTS, 'hints', '771 mg', '2.14 g', '2.30 mL')
  await waitFor(LENSES, 'the lenses', 'Rescale to', '× 2', '÷ 2')
  contains(await shown(STATUS), 'Meniscus')
  await picture('plan')
  await plan.close()
})

await test('hover shows the amounts and where they come from', async () => {
  const plan = await Plan.open(plans, sound)
  await waitFor(HINTS, 'hints', '2.30 mL')
  await plan.goTo('base:', 1)
  await command('Show or Focus Hover')
  // C4H9Li is 64.056 g/mol (CIAAW 2021 as above, Li 6.94); 5.75 mmol at 2.5 mol/L is 2.30 mL.
  await waitFor('.monaco-hover', 'the hover', '2.30 mL', '5.75 mmol', '64.056')
  await picture('hover')
  await press('Escape')
  await plan.close()
})

await test('a slip is found while it is typed, and gone when it is undone', async () => {
  const plan = await Plan.open(plans, sound)
  await clean()
  await plan.goTo('4 mL\n', 1)
  await type(',5')
  await waitFor(STATUS, 'the status', '1 error')
  await thePage().locator('.squiggly-error').first().waitFor()
  await press('F8')
  await waitFor('.marker-widget', 'the finding', 'decimal')
  await picture('finding')
  await press('Escape')
  await press('Control+z')
  await clean()
  await wait('the finding to go', async () => (await thePage().locator('.squiggly-error').count()) === 0)
  await plan.waitForText(sound)
  await plan.close()
})

await test('a quick fix mends the slip, and one undo brings it back', async () => {
  const slip = having(sound, ['in thf 4 mL', 'in thf 4,0 mL'])
  const plan = await Plan.open(plans, slip)
  await waitFor(STATUS, 'the status', '1 error')
  await plan.goTo('4,0 mL', 1)
  await press('Control+.')
  await insist('Control+.', '.action-widget', 'the fixes', '4.0')
  await picture('fix')
  await press('Enter')
  await plan.waitForText(having(sound, ['in thf 4 mL', 'in thf 4.0 mL']))
  await clean()
  await press('Control+z')
  await plan.waitForText(slip)
  await plan.close()
})

await test('findings and fixes are in their place behind µ, °, Å, · and →', async () => {
  const wide = having(sound, ['10 ppm water, 25 mL', `10 ppm water, ${WIDE}, 25,0 mL`])
  const plan = await Plan.open(plans, wide)
  await waitFor(STATUS, 'the status', '1 error')
  await plan.goTo('25,0 mL', 1)
  await press('Control+.')
  await insist('Control+.', '.action-widget', 'the fixes', '25.0')
  await press('Enter')
  const mended = having(wide, ['25,0 mL', '25.0 mL'])
  await plan.waitForText(mended)
  await thePage().locator(LENSES).getByText('÷ 2').click()
  await agree()
  await plan.waitForText(having(mended, ['25.0 mL', '12.5 mL'], ...HALVED.filter(([from]) => from !== 'water, 25 mL')))
  await plan.close()
})

// A smaller flask would do as well: that waits for a yes, and the amounts are taken without it.
async function agree() {
  await waitFor('.bulk-edit-panel', 'the preview', 'flask:')
  await thePage().locator('.bulk-edit-panel .monaco-button', { hasText: 'Apply' }).click()
}

await test('a lens rescales, and one undo takes it back', async () => {
  const plan = await Plan.open(plans, sound)
  await thePage().locator(LENSES).getByText('÷ 2').click()
  await agree()
  await plan.waitForText(having(sound, ...HALVED))
  await press('Control+z')
  await plan.waitForText(sound)
  await plan.close()
})

await test('sizes of equipment wait for a yes, in the preview of a rescaling', async () => {
  const plan = await Plan.open(plans, sound)
  await thePage().locator(LENSES).getByText('× 2').click()
  const rows = thePage().locator('.bulk-edit-panel .monaco-list-row')
  await waitFor('.bulk-edit-panel', 'the preview', 'flask:', 'syringes:')
  const ticked = async text => rows.filter({ hasText: text }).locator('.monaco-checkbox, .monaco-custom-toggle, [role=checkbox], input').first()
    .evaluate(box => box.checked ?? box.getAttribute('aria-checked') === 'true')
  same('amounts are ticked, and sizes are not', [true, false, false], await Promise.all(['scale', 'flask:', 'syringes:'].map(ticked)))
  await waitFor(NOTIFICATIONS, 'why', '250 mL')
  await picture('preview')
  await thePage().locator('.bulk-edit-panel .monaco-button', { hasText: 'Apply' }).click()
  await plan.waitForText(having(sound, ...DOUBLED))
  await press('Control+z')
  await plan.waitForText(sound)

  await thePage().locator(LENSES).getByText('× 2').click()
  await waitFor('.bulk-edit-panel', 'the preview', 'flask:', 'syringes:')
  for (const text of ['flask:', 'syringes:']) {
    await rows.filter({ hasText: text }).locator('.monaco-checkbox, .monaco-custom-toggle, [role=checkbox], input').first().click()
  }
  await thePage().locator('.bulk-edit-panel .monaco-button', { hasText: 'Apply' }).click()
  await plan.waitForText(having(sound, ...DOUBLED, ...LARGER))
  await press('Control+z')
  await plan.waitForText(sound)
  await command('Notifications: Clear All Notifications')
  await plan.close()
})

await test('the lens asks for a goal, tries what is typed, and rescales to it', async () => {
  const plan = await Plan.open(plans, sound, 'methylenation.prep')
  await thePage().locator(LENSES).getByText('Rescale to').click()
  await thePage().waitForSelector(`${INPUT} input:focus`)
  await type('12 bananas')
  await waitFor(`${INPUT} .quick-input-message`, 'what is wrong', '12 bananas', '10 mmol')
  await picture('prompt-refused')
  await press('Enter', 'Control+a')
  await type('12 mmol')
  // 5.00 to 12.0 mmol is 2.4 times; 12.0 mmol of 154.25 g/mol is 1.851 g.
  await waitFor(`${INPUT} .quick-input-message`, 'what comes of it', '12.0 mmol', '2.4', '1.85 g')
  await picture('prompt')
  await press('Control+a')
  await type('/ 2')
  await waitFor(`${INPUT} .quick-input-message`, 'what comes of it', '2.50 mmol')
  await press('Enter')
  await agree()
  await plan.waitForText(having(sound, ...HALVED))
  await press('Control+z')
  await plan.waitForText(sound)
  await plan.close()
})

await test('the command asks from anywhere in a plan', async () => {
  const plan = await Plan.open(plans, sound)
  await clean()
  await plan.goTo('weigh alkene')
  await command('Meniscus: Rescale to')
  await waitFor(INPUT, 'the prompt', 'Enter rescales')
  await type('2.50 mmol')
  await press('Enter')
  await agree()
  await plan.waitForText(having(sound, ...HALVED))
  await plan.close()
})

await test('the outline has plan, blocks and keys', async () => {
  const plan = await Plan.open(plans, sound)
  await clean()
  await press('Control+Shift+o')
  await waitFor(`${INPUT} .quick-input-list`, 'the outline', 'materials', 'ketone', 'products')
  await picture('outline')
  await press('Escape')
  await plan.close()
})

await test('completion knows substances, and verbs by their first letters', async () => {
  const plan = await Plan.open(plans, sound)
  await clean()
  await plan.goTo('\n\nproducts')
  await press('Enter')
  await type('x: tetrahydrof')
  await insist('Control+Space', '.suggest-widget .monaco-list-rows', 'the suggestions', 'tetrahydrofuran')
  await picture('completion')
  const line = thePage().locator('.view-line', { hasText: /alkene:/ })
  await wait('the hint to stand behind its line', async () => (await line.innerText()).includes('647'), () => line.innerText())
  await press('Tab')
  await wait('the substance to be written', async () => (await plan.text()).includes('x: tetrahydrofuran\n'))
  await plan.goTo('  weigh alkene', 14)
  await press('Enter')
  await type('evacu')
  await insist('Control+Space', '.suggest-widget .monaco-list-rows', 'the suggestions', 'evacuate and refill')
  await press('Escape')
  await plan.close()
})

await test('Enter behind a word that is written out begins a line, although the word is offered', async () => {
  const plan = await Plan.open(plans, sound)
  await clean()
  await plan.goTo('\n\nproducts')
  await press('Enter')
  await type('x: toluene, 1.00 eq')
  await insist('Control+Space', '.suggest-widget .monaco-list-rows', 'the suggestions', 'eq')
  await press('Enter')
  await type('y: toluene')
  await wait('two lines', async () => /eq\n +y: toluene\n/.test(await plan.text()), () => plan.text())
  await plan.close()
})

await test('a definition is gone to', async () => {
  const plan = await Plan.open(plans, sound)
  await clean()
  await plan.goTo('quench with nh4cl', 13)
  await press('F12')
  const line = sound.slice(0, sound.indexOf('  nh4cl:')).split('\n').length
  await waitFor('.statusbar-item[id="status.editor.selection"]', 'the place', `Ln ${line}, Col 3`)
  await plan.close()
})

await test('what the snippets write is read without an error', () => {
  const snippets = Object.values(JSON.parse(readFileSync(join(client, 'snippets/prep.json'), 'utf8')))
  const written = prefix => snippets.find(snippet => snippet.prefix === prefix).body.join('\n')
    .replace(/\$\{\d+:([^}]*)\}/g, '$1').replace(/\$\d+/g, '')
  const path = join(plans, 'snippets.prep')
  const [materials, ...rest] = written('plan').split('\n\nequipment')
  writeFileSync(path, [
    `${materials}\n  ${written('material').replace('name', 'benzaldehyde')}\n  ${written('solution')}`,
    `  ${written('dry solvent').replace('thf:', 'dry-thf:')}\n  nh4cl: ammonium chloride, sat. aq., 15 mL\n  pentane: pentane, 90 mL`,
    `\nequipment${rest.join('')}`,
    ...['dry glass', 'dropwise', 'work-up', 'runs'].map(written),
  ].join('\n').replace('  bar:', '  sepfunnel: 250 mL separating funnel\n  rotflask: 250 mL round-bottom flask\n  bar:'))
  let said
  try {
    said = execFileSync(MENISCUS, ['check', '--format', 'json', path], { encoding: 'utf8' })
  } catch (errors) {
    said = errors.stdout
  }
  const unread = JSON.parse(said).findings.filter(finding => finding.severity === 'error')
  same('errors', [], unread.map(finding => `${finding.line}: ${finding.message}`))
})

await test('the snippet of a plan is one in which nothing is wrong', async () => {
  const plan = await Plan.open(plans, '', 'snippet.prep')
  await type('plan')
  await press('Control+Space')
  await thePage().locator('.suggest-widget .monaco-list-row', { hasText: /Plan/ }).click()
  await waitFor(HINTS, 'hints', '1.20 eq')
  await wait('the placeholders to be filled', async () => (await plan.text()).includes('over 3 Å sieves'))
  const said = JSON.parse(execFileSync(MENISCUS, ['check', '--format', 'json', plan.path], { encoding: 'utf8' }))
  same('errors', [], said.findings.filter(finding => finding.severity === 'error'))
  await plan.close()
})

await test('a line becomes a comment and back', async () => {
  const plan = await Plan.open(plans, sound)
  await plan.goTo('warm to rt')
  await press('Control+/')
  await plan.waitForText(having(sound, ['  warm to rt', '  # warm to rt']))
  await press('Control+/')
  await plan.waitForText(sound)
  await plan.close()
})

await test('line ends of another system stay', async () => {
  const text = sound.replaceAll('\n', '\r\n')
  const plan = await Plan.open(plans, text)
  await thePage().locator(LENSES).getByText('÷ 2').click()
  await agree()
  await plan.waitForText(having(text, ...HALVED))
  await plan.close()
})

async function where(capability, name, body) {
  if (can[capability]) await test(name, body)
  else note(`left out, as the server does not say ${capability}: ${name}`)
}

await where('renameProvider', 'a key is renamed everywhere', async () => {
  const plan = await Plan.open(plans, sound)
  await clean()
  await plan.goTo('  nh4cl:', 3)
  await press('F2')
  await thePage().waitForSelector('.rename-box input:focus')
  await press('Control+a')
  await type('buffer')
  await picture('rename')
  await press('Enter')
  await wait('the key to change', async () => {
    // A file is empty for a moment while it is saved.
    const text = await plan.text()
    return text.includes('quench with buffer') && !/\bnh4cl\b/.test(text)
  })
  await clean()
  await press('Control+z')
  await plan.waitForText(sound)
  await plan.close()
})

await where('documentFormattingProvider', 'formatting aligns a plan and is undone at once', async () => {
  const ragged = having(sound, ['  ketone:  4-tert', 'ketone: 4-tert'])
  const plan = await Plan.open(plans, ragged)
  await clean()
  await command('Format Document')
  await plan.waitForText(sound)
  await press('Control+z')
  await plan.waitForText(ragged)
  await plan.close()
})

await where('semanticTokensProvider', 'a key has the same colour where it is declared and where it is used', async () => {
  const plan = await Plan.open(plans, sound)
  await clean()
  const classes = () => thePage().evaluate(() =>
    [...document.querySelectorAll('.view-line span span')].filter(span => span.textContent.trim().replace(/:$/, '') === 'bar').map(span => span.className))
  await wait('two of one colour', async () => {
    const found = await classes()
    return found.length >= 2 && new Set(found).size === 1
  }, async () => JSON.stringify(await classes()))
  await plan.close()
})

await test('the bench sheet stands beside the plan, and follows it', async () => {
  const plan = await Plan.open(plans, sound)
  await clean()
  await command('Meniscus: Open the Bench Sheet Beside')
  await wait('the sheet', async () => (await sheet()).includes('771 mg'), sheet)
  await picture('sheet')
  same('amounts on more than one line', '', (await brokenAmounts()).join(', '))
  await plan.goTo('5.00 mmol')
  await press('Delete')
  await type('6')
  await wait('the sheet to follow', async () => (await sheet()).includes('926 mg'), sheet)
  await press('Control+z', 'Control+z')
  await wait('the sheet to come back', async () => (await sheet()).includes('771 mg'), sheet)
  await plan.waitForText(sound)
  await plan.close()
})

await test('the settings of the editor say how much is said, and whether hints are shown', async () => {
  const unused = having(sound, ['\nproducts', '  more:    toluene, 5 mL\n\nproducts'])
  const file = join(plans, '.vscode/settings.json')
  const before = JSON.parse(readFileSync(file, 'utf8'))
  const plan = await Plan.open(plans, unused)
  await waitFor(STATUS, 'the status', '1 remark')
  await waitFor(HINTS, 'the hints', '771 mg')
  try {
    writeJson(file, { ...before, 'meniscus.checks': { 'never-used': 'off' }, 'meniscus.hints': false })
    await clean()
    await wait('the hints to go', async () => !(await shown(HINTS)).includes('771 mg'), () => shown(HINTS))
  } finally {
    writeJson(file, before)
  }
  await waitFor(STATUS, 'the status', '1 remark')
  await plan.close()
})

await test('the walkthrough opens an example, in which slips are found', async () => {
  await command('Meniscus: Open the Walkthrough')
  await waitFor('.gettingStartedContainer .gettingStartedSlideDetails', 'the walkthrough', 'Write a reaction plan', 'Install the server')
  await thePage().getByRole('button', { name: 'Open an example' }).or(thePage().locator('.step-title', { hasText: 'Open an example' })).first().click()
  await picture('walkthrough')
  await thePage().locator('.monaco-button', { hasText: 'Open the example' }).click()
  await waitFor(STATUS, 'the status', 'errors', 'warnings')
  await picture('example')
  await press('Control+Shift+m')
  await waitFor('.markers-panel', 'the list of problems', 'solvent-wet-into-heat')
  await picture('problems')
})

await test('a workspace names no program to run, were it trusted', () => {
  same('the program of the workspace ran', false, isThere(join(FOLDER, 'ran')))
})
await close(workbench)

const nowhere = join(FOLDER, 'nowhere')
mkdirSync(nowhere)
// What is needed to serve VS Code, without the server, and relative folders, which mean the one that is open.
const withoutServer = ['.', '', nowhere, '/usr/bin', '/bin'].join(delimiter)
const settings = join(FOLDER, 'user/Machine/settings.json')
const wrapper = join(FOLDER, 'other version')
writeFileSync(wrapper, `#!${process.execPath}
const server = require('node:child_process').spawn(${JSON.stringify(MENISCUS)}, process.argv.slice(2), { stdio: ['pipe', 'pipe', 'inherit'] })
require('node:fs').appendFileSync(${JSON.stringify(join(FOLDER, 'started'))}, process.pid + '\\n')
process.stdin.pipe(server.stdin)
// As many bytes, so that the length in the header still holds.
server.stdout.on('data', chunk => process.stdout.write(Buffer.from(chunk.toString('latin1').replace(/("version":")0\\.\\d/, '$10.9'), 'latin1')))
server.on('exit', code => process.exit(code ?? 1))
process.on('SIGTERM', () => { server.kill(); process.exit(1) })
`)
chmodSync(wrapper, 0o755)
const starts = () => (isThere(join(FOLDER, 'started')) ? readFileSync(join(FOLDER, 'started'), 'utf8').split('\n').filter(Boolean) : [])

const second = await open(restricted, { path: withoutServer, trusted: false })
let plan
await test('a missing server is a message that says what to do', async () => {
  plan = await Plan.open(restricted, sound)
  await waitFor(NOTIFICATIONS, 'the message', 'no program', 'cargo install --path server/meniscus', 'meniscus.server.path')
  await waitFor(STATUS, 'the status', 'Meniscus is off')
  await picture('missing')
})

await test('a workspace names no program to run', async () => {
  await waitFor('.statusbar', 'the status', 'Restricted Mode')
  same('the program of the workspace ran', false, isThere(join(FOLDER, 'ran')))
})

await test('the server starts when its path is set, and a version that does not fit is told', async () => {
  writeJson(settings, { 'meniscus.server.path': wrapper })
  await waitFor(NOTIFICATIONS, 'the message', '(0.9.0) is newer', '(0.1.0)', 'update the extension')
  await waitFor(HINTS, 'hints', '771 mg')
  await picture('version')
})

await test('a program that does not answer is told of, and the next one starts', async () => {
  const mute = join(FOLDER, 'mute')
  writeFileSync(mute, '#!/bin/sh\nexec sleep 60\n')
  chmodSync(mute, 0o755)
  writeJson(settings, { 'meniscus.server.path': mute })
  await waitFor(NOTIFICATIONS, 'the message', mute, 'does not answer')
  await waitFor(STATUS, 'the status', 'Meniscus is off')
  await picture('mute')
  same('a message of the library', false, (await shown(NOTIFICATIONS)).includes('connection'))
  writeJson(settings, { 'meniscus.server.path': 'meniscus' })
  await waitFor(NOTIFICATIONS, 'the message', 'no absolute path')
  writeFileSync(join(FOLDER, 'started'), '')
  writeJson(settings, { 'meniscus.server.path': wrapper })
  await waitFor(HINTS, 'hints', '771 mg')
})

await test('a server that breaks off is started again, and left alone when it goes on', async () => {
  for (let time = 1; time <= 4; time += 1) {
    const [pid] = await wait(`start ${time}`, () => starts().length >= time && starts().slice(-1))
    await plan.waitForText(sound)
    await wait('the server to run', async () => !(await shown(STATUS)).includes('off') && (await thePage().locator(`${STATUS} .codicon-loading`).count()) === 0)
    process.kill(Number(pid), 'SIGTERM')
    await wait('the end of it', () => { try { process.kill(Number(pid), 0); return false } catch { return true } })
  }
  await waitFor(NOTIFICATIONS, 'the message', 'ended 4 times')
  await waitFor(STATUS, 'the status', 'Meniscus is off')
  same('starts', 4, starts().length)
  await picture('ended')
})

await test('the item in the status bar starts it again', async () => {
  await thePage().locator(STATUS).click()
  await wait('a fifth start', () => starts().length === 5)
  await clean()
  await waitFor(HINTS, 'hints', '771 mg')
  same('the program of the workspace ran', false, isThere(join(FOLDER, 'ran')))
})
await close(second)
process.exit(finish())
