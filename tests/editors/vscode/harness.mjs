// Reports in the Test Anything Protocol, serves VS Code, and works it as a person does: with keys, mouse and eyes.
import { spawn, execFileSync } from 'node:child_process'
import { closeSync, existsSync, mkdirSync, openSync, readFileSync, writeFileSync } from 'node:fs'
import { createServer } from 'node:net'
import { join } from 'node:path'
import { chromium } from 'playwright-core'

const { MENISCUS, MENISCUS_ROOT, CODE_SERVER, CHROMIUM, CHROMIUM_LIBRARIES, FOLDER, SCREENSHOTS } = process.env
export { MENISCUS, MENISCUS_ROOT, FOLDER, CODE_SERVER }

// Long enough for a debug build on a busy machine; nothing waits this long unless it fails.
const PATIENCE = Number(process.env.PATIENCE ?? 20_000)

let passed = 0
let failed = 0
let page

export async function test(name, body) {
  const start = Date.now()
  try {
    await body()
    passed += 1
    console.log(`ok - ${name}`)
  } catch (why) {
    failed += 1
    console.log(`not ok - ${name}\n  ${String(why?.stack ?? why).replaceAll('\n', '\n  ')}`)
    if (page) await picture(`failed ${failed}`)
    if (page) await page.keyboard.press('Escape')
  }
  console.error(`${Date.now() - start} ms: ${name}`)
}

export function note(text) {
  console.log(`# ${text}`)
}

/** The code to end with: 10 after a failure, as other codes are those of a program that breaks off. */
export function finish() {
  console.log(`# passed ${passed}, failed ${failed}`)
  return failed === 0 && passed > 0 ? 0 : 10
}

export function same(what, expected, got) {
  if (JSON.stringify(expected) !== JSON.stringify(got)) {
    throw new Error(`${what}: expected\n${JSON.stringify(expected)}\ngot\n${JSON.stringify(got)}`)
  }
}

export function contains(text, ...parts) {
  for (const part of parts) {
    if (!text.includes(part)) throw new Error(`\`${part}\` is not in:\n${text}`)
  }
}

/** Waits until `condition` returns something that holds, and returns it; `state` tells what there is instead. */
export async function wait(what, condition, state) {
  const end = Date.now() + PATIENCE
  for (;;) {
    const got = await condition()
    if (got) return got
    if (Date.now() > end) {
      throw new Error(`waited ${PATIENCE / 1000} s in vain for ${what}${state ? `; there is\n${await state()}` : ''}`)
    }
    await new Promise(done => setTimeout(done, 40))
  }
}

function freePort() {
  return new Promise((done, failed) => {
    const server = createServer()
    server.on('error', failed)
    server.listen(0, '127.0.0.1', () => {
      const { port } = server.address()
      server.close(() => done(port))
    })
  })
}

function codeServer(...args) {
  return [join(CODE_SERVER, 'out/node/entry.js'), '--user-data-dir', join(FOLDER, 'user'), '--extensions-dir', join(FOLDER, 'extensions'), ...args]
}

export function installExtension(file) {
  return execFileSync(process.execPath, codeServer('--install-extension', file), { encoding: 'utf8', stdio: ['ignore', 'pipe', 'inherit'] })
}

export function writeJson(path, value) {
  mkdirSync(join(path, '..'), { recursive: true })
  writeFileSync(path, JSON.stringify(value))
}

/** Settings without what VS Code shows to newcomers, and `more`. */
export function quieten(more) {
  writeJson(join(FOLDER, 'user/User/settings.json'), {
    'workbench.startupEditor': 'none',
    'workbench.tips.enabled': false,
    'workbench.colorTheme': 'Default Light Modern',
    'chat.disableAIFeatures': true,
    'workbench.secondarySideBar.defaultVisibility': 'hidden',
    'security.workspace.trust.startupPrompt': 'never',
    'security.workspace.trust.banner': 'never',
    'editor.minimap.enabled': false,
    'editor.fontSize': 13,
    'window.commandCenter': false,
    'extensions.ignoreRecommendations': true,
    'files.simpleDialog.enable': true,
    ...more,
  })
}

/** Serves VS Code for a folder and opens it, in a `view` as Playwright has it; what to give to `close`. */
export async function open(folder, { path, trusted, view }) {
  const port = await freePort()
  const log = openSync(join(FOLDER, 'code-server.log'), 'a')
  const flags = ['--auth', 'none', '--bind-addr', `127.0.0.1:${port}`, '--disable-telemetry', '--disable-update-check']
  if (trusted) flags.push('--disable-workspace-trust')
  const server = spawn(process.execPath, codeServer(...flags, folder), {
    // With the last, the search path is this one, and not what a login shell makes of it.
    env: { ...process.env, PATH: path, VSCODE_CLI: '1' },
    stdio: ['ignore', log, log],
    cwd: folder,
    detached: true,
  })
  closeSync(log)
  process.on('exit', () => end(server))
  const url = `http://127.0.0.1:${port}/`
  await wait('code-server to answer', async () => (await fetch(`${url}healthz`).catch(() => undefined))?.ok)
  const browser = await chromium.launch({
    executablePath: CHROMIUM,
    args: ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking',
      '--disable-component-update', '--disable-sync', '--lang=en-US'],
    env: { ...process.env, ...(CHROMIUM_LIBRARIES && { LD_LIBRARY_PATH: CHROMIUM_LIBRARIES }) },
  })
  page = await browser.newPage({ viewport: { width: 1240, height: 780 }, locale: 'en-US', ...view })
  page.setDefaultTimeout(PATIENCE)
  await page.goto(`${url}?folder=${encodeURIComponent(folder)}`)
  await page.waitForSelector('.monaco-workbench .statusbar-item')
  return { browser, server }
}

export async function close({ browser, server }) {
  page = undefined
  await browser.close()
  end(server)
}

/** The group: code-server starts programs of its own, and they start the server. */
function end(server) {
  try {
    process.kill(-server.pid, 'SIGTERM')
  } catch (gone) {
    if (gone.code !== 'ESRCH') throw gone
  }
}

export function thePage() {
  return page
}

export async function press(...keys) {
  for (const key of keys) await page.keyboard.press(key)
}

/** Types as fast as a person: VS Code offers nothing to somebody who is ahead of it. */
export async function type(text) {
  await page.keyboard.type(text, { delay: 40 })
}

export async function picture(name) {
  if (!SCREENSHOTS) return
  mkdirSync(SCREENSHOTS, { recursive: true })
  await page.screenshot({ path: join(SCREENSHOTS, `${name}.png`) })
}

/** What stands in a widget, with the spaces that VS Code draws as others made plain. */
export async function shown(selector) {
  const texts = await page.locator(selector).allInnerTexts()
  return texts.join('\n').replaceAll('\u00a0', ' ').replaceAll('\u200c', '').replaceAll('\u200b', '')
}

/** What stands in the sheet beside the plan: in a frame within a frame, as VS Code shows pages. */
export async function sheet() {
  const texts = await Promise.all(thePage().frames().map(frame => frame.locator('h1, table').allInnerTexts().catch(() => [])))
  return texts.flat().join('\n').replaceAll('\u00a0', ' ')
}

/** Amounts of the sheet that are broken over more than one line. */
export async function brokenAmounts() {
  const broken = cells => cells.filter(cell => {
    const text = document.createRange()
    text.selectNodeContents(cell)
    return text.getBoundingClientRect().height > 2 * parseFloat(getComputedStyle(cell).fontSize)
  }).map(cell => cell.textContent)
  const frames = thePage().frames().map(frame => frame.locator('.measure td.take').evaluateAll(broken).catch(() => []))
  return (await Promise.all(frames)).flat()
}

export async function waitFor(selector, what, ...parts) {
  await wait(`${what}: ${parts.join(', ')}`, async () => {
    const text = await shown(selector)
    return text !== '' && parts.every(part => text.includes(part))
  }, () => shown(selector))
  return shown(selector)
}

/** Waits for what a key brings up, and presses it again where VS Code was too busy to heed it. */
export async function insist(key, selector, what, ...parts) {
  let pressed = Date.now()
  await wait(`${what}: ${parts.join(', ')}`, async () => {
    const text = await shown(selector)
    if (text !== '' && parts.every(part => text.includes(part))) return true
    if (Date.now() - pressed > 3000) {
      await press(key)
      pressed = Date.now()
    }
    return false
  }, () => shown(selector))
}

/** Types into the box that a key opens, and takes the first thing offered. */
async function choose(key, text, offered) {
  await wait('the last box to close', async () => !(await page.locator('.quick-input-widget').isVisible()))
  await press(key)
  const box = page.locator('.quick-input-widget input:focus')
  await box.waitFor()
  // Behind the sign that the box begins with, which says what is chosen from.
  await box.fill((await box.inputValue()) + text)
  if (offered) await page.locator('.quick-input-list .monaco-list-row.focused', { hasText: offered }).first().waitFor()
  await press('Enter')
}

export async function command(title) {
  await choose('F1', title, title)
}

export const STATUS = '.statusbar-item[id$="meniscus.status"]'
const EDITOR = '.editor-instance .monaco-editor'
export const NOTIFICATIONS = '.notifications-toasts .notification-list-item'

let files = 0

/** A plan in an editor of its own. */
export class Plan {
  static async open(folder, text, name = `${++files} µ°.prep`) {
    const plan = new Plan()
    plan.path = join(folder, name)
    writeFileSync(plan.path, text)
    await choose('Control+p', plan.path, name)
    await page.locator('.tab.active', { hasText: name }).waitFor()
    await page.waitForSelector(`${EDITOR}.focused`)
    return plan
  }

  onDisk() {
    return readFileSync(this.path, 'utf8')
  }

  /** What the editor has, which is to be saved for that. */
  async text() {
    await press('Control+s')
    await wait('the file to be saved', async () => (await page.locator('.tab.active.dirty').count()) === 0)
    return this.onDisk()
  }

  async waitForText(expected) {
    let got
    await wait('the text to change', async () => (got = await this.text()) === expected, () => firstDifference(expected, got))
  }

  /** Puts the cursor in front of a text, as many characters into it as `within`. */
  async goTo(part, within = 0) {
    const text = this.onDisk()
    const at = text.indexOf(part)
    if (at < 0) throw new Error(`no \`${part}\` in the plan`)
    const before = text.slice(0, at).split(/\r\n|\n/)
    await choose('Control+g', `${before.length}:${before.at(-1).length + 1 + within}`)
    await page.waitForSelector(`${EDITOR}.focused`)
  }

  async close() {
    await press('Control+s')
    await command('View: Close All Editors')
    await wait('the editor to close', async () => (await page.locator('.tab').count()) === 0)
  }
}

function firstDifference(expected, got) {
  const [ours, theirs] = [expected.split('\n'), got.split('\n')]
  const at = ours.findIndex((line, number) => line !== theirs[number])
  return `line ${at + 1}: ${JSON.stringify(theirs[at])}, not ${JSON.stringify(ours[at])}`
}

/** What a server says of itself to somebody who starts it. */
export async function capabilities() {
  const server = spawn(MENISCUS, ['serve', '--stdio'], { stdio: ['pipe', 'pipe', 'inherit'] })
  const body = JSON.stringify({ jsonrpc: '2.0', id: 1, method: 'initialize', params: { processId: null, rootUri: null, capabilities: {} } })
  server.stdin.write(`Content-Length: ${Buffer.byteLength(body)}\r\n\r\n${body}`)
  let answer = ''
  for await (const chunk of server.stdout) {
    answer += chunk
    const [header, rest] = answer.split('\r\n\r\n')
    const length = Number(/Content-Length: (\d+)/i.exec(header)?.[1])
    if (rest && Buffer.byteLength(rest) >= length) {
      server.kill()
      return JSON.parse(rest).result.capabilities
    }
  }
  throw new Error('the server ended without an answer')
}

export function isThere(path) {
  return existsSync(path)
}
