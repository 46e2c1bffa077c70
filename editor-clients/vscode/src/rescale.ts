// The prompt that rescales: what is typed is tried by the server, and what would come of it stands below.
import * as vscode from 'vscode'
import { Position, type LanguageClient } from 'vscode-languageclient/node'

/** The server's command. */
export const RESCALE = 'meniscus.rescale'

/** Where a plan is, as the server says it. */
export interface Place {
  uri: string
  position: Position
}

/** What comes of a rescaling. */
interface Summary {
  title: string
  newlyWrong: { severity: string; line: number; message: string; mendedByEquipment: boolean }[]
  notes: string[]
  limit: string | null
  leftAlone: { line: number; text: string; place: string }[]
  equipment: string[]
}

function isSummary(value: unknown): value is Summary {
  return typeof value === 'object' && value !== null && 'title' in value && 'newlyWrong' in value
}

function place(client: LanguageClient): Place | undefined {
  const editor = vscode.window.activeTextEditor
  if (editor?.document.languageId !== 'prep') return undefined
  return {
    uri: client.code2ProtocolConverter.asUri(editor.document.uri),
    position: client.code2ProtocolConverter.asPosition(editor.selection.active),
  }
}

function document(client: LanguageClient, uri: string): vscode.TextDocument | undefined {
  const wanted = client.protocol2CodeConverter.asUri(uri).toString()
  return vscode.workspace.textDocuments.find(document => document.uri.toString() === wanted)
}

/** Tells what a person should know of a rescaling that was asked for by a lens or by the prompt. */
export function tell(result: unknown): void {
  if (!isSummary(result)) return
  const wrong = result.newlyWrong
    .filter(wrong => !wrong.mendedByEquipment)
    .map(wrong => `line ${wrong.line + 1}, new ${wrong.severity}: ${wrong.message}`)
  const left = result.leftAlone.map(left => `line ${left.line + 1}: ${left.text} was left alone (${left.place}).`)
  const sizes = result.equipment.length > 0 ? [`Tick in the preview what shall follow too: ${result.equipment.join('; ')}.`] : []
  const remarks = [...wrong, ...sizes, ...left, ...result.notes]
  if (remarks.length > 0) {
    const show = wrong.length > 0 ? vscode.window.showWarningMessage : vscode.window.showInformationMessage
    // With a button the whole message is shown, and not its first line only.
    void show(`Meniscus: ${remarks.join(' ')}`, 'OK')
  }
}

/** Asks for a goal and rescales the plan to it. */
export async function rescaleTo(client: LanguageClient, given: Place | undefined): Promise<void> {
  const at = given ?? place(client)
  const plan = at && document(client, at.uri)
  if (!at || !plan) {
    void vscode.window.showInformationMessage('Meniscus: open a plan (a file that ends in .prep), then rescale it.')
    return
  }
  const execute = (goal: string, preview: boolean) =>
    client.sendRequest<unknown>('workspace/executeCommand', {
      command: RESCALE,
      arguments: [{ ...at, goal, preview, version: plan.version }],
    })

  const input = vscode.window.createInputBox()
  const explain = '2x · / 2 · 10 mmol · 2.0 g of KEY · bottles · bottle of KEY · flask 250 mL · smallest'
  input.title = 'Rescale to…'
  input.placeholder = explain
  input.prompt = 'A factor, an amount, or as much of a material or product as it says; Enter rescales, one undo takes it back.'

  /** What the server says to a goal; shown, unless something else was typed meanwhile. */
  const judge = async (goal: string): Promise<boolean> => {
    if (goal === '') {
      input.validationMessage = undefined
      return false
    }
    let message: string
    let severity = vscode.InputBoxValidationSeverity.Info
    try {
      const summary = await execute(goal, true)
      if (!isSummary(summary)) throw new Error('the server does not know this command: update it')
      const [worst, ...more] = summary.newlyWrong
      message = [summary.title, summary.limit].filter(Boolean).join('; ')
      if (worst) {
        severity = vscode.InputBoxValidationSeverity.Warning
        message += ` — line ${worst.line + 1}, new ${worst.severity}: ${worst.message}`
        if (more.length > 0) message += ` (and ${more.length} more)`
      }
    } catch (error) {
      message = error instanceof Error ? error.message : String(error)
      severity = vscode.InputBoxValidationSeverity.Error
    }
    if (input.value.trim() === goal) input.validationMessage = { message, severity }
    return severity !== vscode.InputBoxValidationSeverity.Error
  }

  let timer: NodeJS.Timeout | undefined
  const done = new Promise<string | undefined>(resolve => {
    input.onDidChangeValue(value => {
      clearTimeout(timer)
      timer = setTimeout(() => void judge(value.trim()), 100)
    })
    input.onDidAccept(async () => {
      const goal = input.value.trim()
      if (await judge(goal)) resolve(goal)
    })
    input.onDidHide(() => resolve(undefined))
  })
  input.show()
  const goal = await done
  clearTimeout(timer)
  input.dispose()
  if (goal === undefined) return
  try {
    tell(await execute(goal, false))
  } catch (error) {
    void vscode.window.showErrorMessage(`Meniscus: ${error instanceof Error ? error.message : String(error)}`)
  }
}

/** A lens says for which version of the plan it stands, so that a plan that has changed is not rescaled unseen. */
export function withVersion(client: LanguageClient, argument: unknown): unknown {
  if (typeof argument !== 'object' || argument === null || !('uri' in argument)) return argument
  const plan = document(client, String(argument.uri))
  return plan ? { version: plan.version, ...argument } : argument
}
