// The frames of the tour in README.md: `tour` beside this file says how they are made into a picture.
import { mkdirSync, readFileSync, writeFileSync } from 'node:fs'
import { delimiter, dirname, join } from 'node:path'
import {
  FOLDER, MENISCUS, MENISCUS_ROOT, Plan, STATUS, close, command, insist, installExtension, open, picture, press, quieten,
  sheet, thePage, type, wait, waitFor, writeJson,
} from './harness.mjs'

const example = name => readFileSync(join(MENISCUS_ROOT, 'examples', name), 'utf8')
const NAME = 'ethyl-addition.prep'
const whole = example(NAME)
const draft = whole.slice(0, whole.indexOf('  reagent:')).replace(/^reaction .*\n/m, '')
// What takes the air out of the flask is left out.
const slip = whole.replace('  assemble flask hot under argon\n', '').replace('cool to rt under argon', 'cool to rt')
  .replace('  evacuate and refill with argon, 3 cycles, 1 mbar\n', '')

const plans = join(FOLDER, 'plans')
mkdirSync(plans)
// Titres and dryness grow old; the tour does not.
const today = new Date().toISOString().slice(0, 10)
writeFileSync(join(plans, 'inventory.toml'), example('inventory.toml').replace(/\d{4}-\d\d-\d\d/g, today))
writeFileSync(join(plans, 'meniscus.toml'), example('meniscus.toml'))

const HINTS = '.view-lines'
const HOVER = '.monaco-hover:not(.hidden) .monaco-hover-content'
const frames = []

async function frame(seconds, caption) {
  const file = String(frames.length + 1).padStart(2, '0')
  await new Promise(done => setTimeout(done, 700))
  await picture(file)
  frames.push({ file: `${file}.png`, seconds, caption })
}

/** A pointer that can be seen: no picture of a page has the mouse in it. */
async function showPointer() {
  await thePage().evaluate(() => {
    const pointer = document.createElement('div')
    pointer.style = 'position: fixed; z-index: 1000000; pointer-events: none; left: -50px'
    pointer.innerHTML = '<svg width="16" height="24"><path d="M1 1v18l4-4 3 7 3-1-3-7h6z" fill="#000" stroke="#fff"/></svg>'
    document.body.append(pointer)
    document.addEventListener('mousemove', at => {
      pointer.style.left = `${at.clientX}px`
      pointer.style.top = `${at.clientY}px`
    }, true)
  })
}

/** Moves the pointer onto a word of a line. */
async function pointAt(line, word) {
  const at = await thePage().evaluate(([line, word]) => {
    const plain = text => text.replaceAll('\u00a0', ' ')
    const found = [...document.querySelectorAll('.view-line')].find(shown => plain(shown.textContent).includes(line))
    const walk = document.createTreeWalker(found, NodeFilter.SHOW_TEXT)
    while (walk.nextNode()) {
      const from = plain(walk.currentNode.data).indexOf(word)
      if (from < 0) continue
      const range = document.createRange()
      range.setStart(walk.currentNode, from)
      range.setEnd(walk.currentNode, from + word.length)
      const { x, y, width, height } = range.getBoundingClientRect()
      return { x: x + width / 2, y: y + height / 2 }
    }
    return undefined
  }, [line, word])
  if (!at) throw new Error(`no \`${word}\` in a line with \`${line}\``)
  await thePage().mouse.move(at.x, at.y - 3)
  await thePage().mouse.move(at.x, at.y)
}

async function pointAway() {
  await press('Escape')
  await thePage().mouse.move(959, 599)
  await wait('the hover to go', async () => !(await thePage().locator(HOVER).first().isVisible()))
}

installExtension(join(MENISCUS_ROOT, 'editor-clients/vscode/meniscus.vsix'))
quieten({
  'editor.fontSize': 13.5,
  'editor.inlayHints.fontSize': 13,
  // Theirs is too pale for a picture that is shown smaller.
  'workbench.colorCustomizations': { 'editorInlayHint.foreground': '#6b6b6b' },
  'editor.lineNumbersMinChars': 2,
  'editor.glyphMargin': false,
  'editor.folding': false,
  'editor.stickyScroll.enabled': false,
  'editor.scrollbar.horizontal': 'hidden',
  'editor.lightbulb.enabled': 'off',
  'editor.cursorBlinking': 'solid',
  'editor.hover.delay': 100,
  'editor.hover.above': false,
  'breadcrumbs.enabled': false,
  'workbench.activityBar.location': 'hidden',
  'workbench.layoutControl.enabled': false,
})
const workbench = await open(plans, {
  path: [dirname(MENISCUS), process.env.PATH].join(delimiter),
  trusted: true,
  view: { viewport: { width: 960, height: 600 }, deviceScaleFactor: 2 },
})
await command('View: Close Primary Side Bar').catch(() => undefined)
await showPointer()

let plan = await Plan.open(plans, draft, NAME)
await waitFor(HINTS, 'hints', '2.06 mL')
await press('Control+End')
await type('  reagent: ethylmagnesium br')
await insist('Control+Space', '.suggest-widget .monaco-list-rows', 'the suggestions', 'ethylmagnesium bromide')
await frame(2, '1  Write it as in a notebook: substances and bottles are known.')
await press('Tab')
await type(', bottle etmgbr-2, 1.15 eq')
await press('Enter')
await waitFor(HINTS, 'hints', '8.01 mL')
await pointAway()
await frame(2.5, '1  Equivalents typed: the line ends with what to measure.')
await pointAt('reagent:', 'reagent')
await waitFor(HOVER, 'the hover', '8.01 mL')
await frame(3, '2  Point at a material: its amount, and where that comes from.')
await pointAway()
await plan.close()

plan = await Plan.open(plans, slip, NAME)
await waitFor(STATUS, 'the status', '1 warning')
// Away from a key, which would be marked wherever it is used.
await press('Control+Home')
for (let line = 0; line < 22; line += 1) await press('Control+ArrowDown')
await frame(1.5, '3  What was forgotten is underlined while you write.')
await pointAt('add reagent', 'reagent')
await waitFor(HOVER, 'the hover', 'oxygen')
await frame(3.5, '3  Point at it: what is wrong, and what comes of it.')
await pointAway()
await plan.goTo('add reagent', 5)
await press('Control+.')
await insist('Control+.', '.action-widget', 'the fixes', 'Evacuate and refill')
await frame(1.5, '3  A quick fix ...')
await press('Enter')
await waitFor(HINTS, 'the step', 'evacuate and refill flask with argon')
await waitFor(STATUS, 'the status', 'Meniscus')
await pointAway()
await frame(1.5, '3  ... writes the step, before the solvent goes in.')
await pointAt('transfer vial', 'transfer')
await waitFor(HOVER, 'the hover', 'flask')
await frame(3.5, '4  Point at a step: the flask at that moment.')

await pointAway()
await plan.goTo('plan')
const lens = thePage().locator('.codelens-decoration').getByText('÷ 2')
await lens.hover()
await frame(1.5, '5  One click above the scale ...')
await lens.click()
await waitFor(HINTS, 'hints', '4.01 mL')
await frame(2.5, '5  ... and every amount of the plan is new.')

await thePage().locator('.editor-actions [aria-label*="Open the Bench Sheet"]').first().click()
await wait('the sheet', async () => (await sheet()).includes('4.01 mL'), sheet)
await pointAway()
await frame(1.5, '6  The bench sheet, beside the plan ...')
await thePage().locator('.tab', { hasText: 'Sheet:' }).click()
await command('View: Toggle Maximize Editor Group')
await pointAway()
const measure = thePage().frames().map(frame => frame.locator('#measure'))
for (const heading of measure) if (await heading.count()) await heading.evaluate(heading => heading.scrollIntoView())
await frame(5, '6  ... to print, tick and sign.')
await close(workbench)
writeJson(join(process.env.SCREENSHOTS, 'frames.json'), frames)
