// Starts the server, keeps it running, and adds what a server cannot do by itself.
import { spawn, type ChildProcess } from 'node:child_process'
import * as vscode from 'vscode'
import {
  CloseAction,
  ErrorAction,
  LanguageClient,
  RevealOutputChannelOn,
  State,
  type ErrorHandler,
} from 'vscode-languageclient/node'
import { RESCALE, rescaleTo, tell, withVersion, type Place } from './rescale'
import { findServer, mismatch } from './server'
import { SheetView } from './sheet'
import { Status } from './status'

/** More ends than this within the time, and the server is left alone. */
const RESTARTS = 3
const WITHIN_MS = 3 * 60_000
/** A program that has not answered by then is none of ours. */
const ANSWERS_WITHIN_MS = 10_000
const HOW = 'Show How'

function openWalkthrough(): void {
  void vscode.commands.executeCommand('workbench.action.openWalkthrough', 'meniscus.meniscus#start')
}

/** Logs what goes wrong, and leaves it to us to tell what to do about it. */
class QuietClient extends LanguageClient {
  override error(message: string, data?: unknown): void {
    super.error(message, data, false)
  }
}

class Meniscus implements vscode.Disposable {
  client: LanguageClient | undefined
  private process: ChildProcess | undefined
  private readonly status = new Status()
  private readonly log = vscode.window.createOutputChannel('Meniscus', { log: true })
  private ends: number[] = []
  private told: string | undefined
  private toldVersion: string | undefined
  private turn: Promise<void> = Promise.resolve()

  constructor(private readonly context: vscode.ExtensionContext) {}

  /** Starts the server anew, one after the other however often it is asked for. */
  restart(): Promise<void> {
    this.turn = this.turn.then(() => this.stop()).then(() => this.start())
    return this.turn
  }

  showLog(): void {
    this.log.show()
  }

  private async stop(): Promise<void> {
    const client = this.client
    this.client = undefined
    this.ends = []
    await client?.dispose().catch(error => this.log.warn(String(error)))
    this.process?.kill()
    this.process = undefined
  }

  private run(program: string): Promise<ChildProcess> {
    return new Promise((resolve, reject) => {
      const started = spawn(program, ['serve', '--stdio'])
      this.process = started
      started.once('spawn', () => resolve(started))
      started.on('error', reject)
    })
  }

  private async start(): Promise<void> {
    const setting = vscode.workspace.getConfiguration('meniscus').get('server.path', '')
    const found = findServer(setting, this.context.extensionPath)
    if ('trouble' in found) {
      this.off(`${found.trouble} Until then plans are not checked.`)
      return
    }
    const { program } = found
    this.status.set('starting', `Starting \`${program}\``)
    const client: LanguageClient = new QuietClient(
      'meniscus',
      'Meniscus',
      () => this.run(program),
      {
        documentSelector: [
          { scheme: 'file', language: 'prep' },
          { scheme: 'untitled', language: 'prep' },
        ],
        initializationOptions: {
          asks: true,
          reference: vscode.Uri.joinPath(this.context.extensionUri, 'dist', 'checks.md').toString(),
        },
        outputChannel: this.log,
        revealOutputChannelOn: RevealOutputChannelOn.Never,
        errorHandler: this.errorHandler(program, () => this.client === client),
        initializationFailedHandler: () => false,
        middleware: {
          executeCommand: async (command, args, next) => {
            if (command !== RESCALE) return next(command, args)
            try {
              const result: unknown = await next(command, [withVersion(client, args[0]), ...args.slice(1)])
              tell(result)
              return result
            } catch (error) {
              void vscode.window.showErrorMessage(`Meniscus: ${error instanceof Error ? error.message : String(error)}`)
              return undefined
            }
          },
        },
      },
    )
    this.client = client
    client.onDidChangeState(({ newState }) => {
      if (newState === State.Running && this.client === client) this.running(client, program)
    })
    let late: NodeJS.Timeout | undefined
    try {
      await Promise.race([
        client.start(),
        new Promise((_, reject) => {
          late = setTimeout(() => reject(new Error('it does not answer')), ANSWERS_WITHIN_MS)
        }),
      ])
    } catch (error) {
      this.client = undefined
      this.process?.kill()
      this.log.error(String(error))
      const why = error instanceof Error ? error.message : String(error)
      this.off(`\`${program}\` does not start as a server (${why}). If it is not meniscus, mend the setting meniscus.server.path.`)
    } finally {
      clearTimeout(late)
    }
  }

  private running(client: LanguageClient, program: string): void {
    const version = client.initializeResult?.serverInfo?.version
    this.told = undefined
    this.status.set('running', `Server ${version ?? ''} at \`${program}\``)
    const trouble = mismatch(String(this.context.extension.packageJSON.version), version)
    if (!trouble || this.toldVersion === trouble) return
    this.toldVersion = trouble
    void vscode.window.showWarningMessage(`Meniscus: ${trouble}`, HOW).then(chosen => {
      if (chosen) openWalkthrough()
    })
  }

  private errorHandler(program: string, wanted: () => boolean): ErrorHandler {
    return {
      error: () => ({ action: ErrorAction.Continue, handled: true }),
      closed: () => {
        if (!wanted()) return { action: CloseAction.DoNotRestart, handled: true }
        const now = Date.now()
        this.ends = [...this.ends.filter(end => now - end < WITHIN_MS), now]
        if (this.ends.length <= RESTARTS) {
          this.log.warn(`${program} ended; it is started again (${this.ends.length} of ${RESTARTS}).`)
          this.status.set('starting', `\`${program}\` ended and is started again`)
          return { action: CloseAction.Restart, handled: true }
        }
        this.off(`The server ended ${this.ends.length} times in a row, so it is not started again by itself. The log says why; start it when that is mended.`)
        return { action: CloseAction.DoNotRestart, handled: true }
      },
    }
  }

  /** Says once why plans are not checked, and what to do about it. */
  private off(why: string): void {
    this.status.set('off', why)
    if (this.told === why) return
    this.told = why
    const [restart, setting, log] = ['Start Again', 'Open Setting', 'Show Log']
    void vscode.window.showWarningMessage(`Meniscus: ${why}`, restart, setting, log).then(chosen => {
      this.told = undefined
      if (chosen === restart) void this.restart()
      if (chosen === setting) void vscode.commands.executeCommand('workbench.action.openSettings', 'meniscus.server.path')
      if (chosen === log) this.showLog()
    })
  }

  async dispose(): Promise<void> {
    await this.turn
    await this.stop()
    this.status.dispose()
    this.log.dispose()
  }
}

let meniscus: Meniscus | undefined

export async function activate(context: vscode.ExtensionContext): Promise<void> {
  const current = new Meniscus(context)
  const sheet = new SheetView(() => current.client)
  meniscus = current
  context.subscriptions.push(
    vscode.commands.registerCommand('meniscus.restart', () => current.restart()),
    vscode.commands.registerCommand('meniscus.showLog', () => current.showLog()),
    vscode.commands.registerCommand('meniscus.rescaleTo', async (place?: Place) => {
      if (!current.client?.isRunning()) await current.restart()
      if (current.client?.isRunning()) await rescaleTo(current.client, place?.uri ? place : undefined)
    }),
    sheet,
    vscode.commands.registerCommand('meniscus.openSheet', async () => {
      if (!current.client?.isRunning()) await current.restart()
      await sheet.open()
    }),
    vscode.commands.registerCommand('meniscus.openWalkthrough', openWalkthrough),
    vscode.commands.registerCommand('meniscus.openExample', async () => {
      const file = vscode.Uri.joinPath(context.extensionUri, 'dist', 'example.prep')
      const content = new TextDecoder().decode(await vscode.workspace.fs.readFile(file))
      await vscode.window.showTextDocument(await vscode.workspace.openTextDocument({ language: 'prep', content }))
    }),
    vscode.workspace.onDidChangeConfiguration(event => {
      if (event.affectsConfiguration('meniscus.server.path')) void current.restart()
    }),
  )
  await current.restart()
}

export function deactivate(): Promise<void> | undefined {
  return meniscus?.dispose()
}
