// The bench sheet of a plan beside its text, as it is while the text changes.
import * as vscode from 'vscode'
import type { LanguageClient } from 'vscode-languageclient/node'

/** The server's command. */
const SHEET = 'meniscus.sheet'
/** A pause in typing after which the sheet follows. */
const PAUSE_MS = 250

interface Sheet {
  title: string
  page: string
}

function isSheet(value: unknown): value is Sheet {
  return typeof value === 'object' && value !== null && 'page' in value && typeof value.page === 'string'
}

/** One view, of the plan in which the cursor is. */
export class SheetView implements vscode.Disposable {
  private panel: vscode.WebviewPanel | undefined
  private shown: vscode.TextEditor | undefined
  private due: NodeJS.Timeout | undefined
  private readonly listeners: vscode.Disposable

  constructor(private readonly client: () => LanguageClient | undefined) {
    this.listeners = vscode.Disposable.from(
      vscode.workspace.onDidChangeTextDocument(({ document }) => {
        if (document === this.shown?.document) this.follow(this.shown)
      }),
      vscode.window.onDidChangeTextEditorSelection(({ textEditor }) => this.follow(textEditor)),
    )
  }

  /** Opens it, or brings it to the front. */
  async open(): Promise<void> {
    const editor = vscode.window.activeTextEditor
    if (editor?.document.languageId !== 'prep') {
      void vscode.window.showInformationMessage('Meniscus: open a plan (a file that ends in .prep), then its sheet.')
      return
    }
    if (!this.panel) {
      // Nothing in a sheet runs, and nothing is loaded.
      const options = { enableScripts: false, enableForms: false, localResourceRoots: [] }
      const where = { viewColumn: vscode.ViewColumn.Beside, preserveFocus: true }
      this.panel = vscode.window.createWebviewPanel(SHEET, 'Bench sheet', where, options)
      this.panel.onDidDispose(() => {
        this.panel = undefined
        this.shown = undefined
      })
    }
    this.panel.reveal(undefined, true)
    await this.show(editor)
  }

  private follow(editor: vscode.TextEditor): void {
    if (!this.panel || editor.document.languageId !== 'prep') return
    clearTimeout(this.due)
    this.due = setTimeout(() => void this.show(editor), PAUSE_MS)
  }

  private async show(editor: vscode.TextEditor): Promise<void> {
    const client = this.client()
    if (!client?.isRunning()) return
    this.shown = editor
    const at = {
      uri: client.code2ProtocolConverter.asUri(editor.document.uri),
      position: client.code2ProtocolConverter.asPosition(editor.selection.active),
    }
    // Between two plans, or closed meanwhile: what is shown stays.
    const sheet: unknown = await client
      .sendRequest('workspace/executeCommand', { command: SHEET, arguments: [at] })
      .catch(() => undefined)
    if (!this.panel || !isSheet(sheet) || this.panel.webview.html === sheet.page) return
    this.panel.title = `Sheet: ${sheet.title}`
    this.panel.webview.html = sheet.page
  }

  dispose(): void {
    clearTimeout(this.due)
    this.listeners.dispose()
    this.panel?.dispose()
  }
}
