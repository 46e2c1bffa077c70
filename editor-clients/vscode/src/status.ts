// The item in the status bar: how many findings the plan in view has, and whether the server runs.
import * as vscode from 'vscode'

export type ServerState = 'starting' | 'running' | 'off'

const SEVERITIES: [vscode.DiagnosticSeverity, string][] = [
  [vscode.DiagnosticSeverity.Error, 'error'],
  [vscode.DiagnosticSeverity.Warning, 'warning'],
  [vscode.DiagnosticSeverity.Information, 'remark'],
  [vscode.DiagnosticSeverity.Hint, 'hint'],
]

export class Status implements vscode.Disposable {
  private readonly item = vscode.window.createStatusBarItem('meniscus.status', vscode.StatusBarAlignment.Right, 100)
  private readonly listeners: vscode.Disposable
  private state: ServerState = 'starting'
  private detail = ''

  constructor() {
    this.item.name = 'Meniscus'
    this.listeners = vscode.Disposable.from(
      vscode.window.onDidChangeActiveTextEditor(() => this.show()),
      vscode.workspace.onDidOpenTextDocument(() => this.show()),
      vscode.languages.onDidChangeDiagnostics(() => this.show()),
    )
    this.show()
  }

  set(state: ServerState, detail: string): void {
    this.state = state
    this.detail = detail
    void vscode.commands.executeCommand('setContext', 'meniscus.running', state === 'running')
    this.show()
  }

  private show(): void {
    const document = vscode.window.activeTextEditor?.document
    if (document?.languageId !== 'prep') {
      this.item.hide()
      return
    }
    const counts = this.counts(document.uri)
    const links = '[Restart the server](command:meniscus.restart) · [Show the log](command:meniscus.showLog)'
    this.item.tooltip = new vscode.MarkdownString(`${this.detail}\n\n${links}`)
    this.item.tooltip.isTrusted = { enabledCommands: ['meniscus.restart', 'meniscus.showLog'] }
    this.item.backgroundColor = undefined
    switch (this.state) {
      case 'starting':
        this.item.text = '$(loading~spin) Meniscus'
        this.item.command = 'meniscus.showLog'
        break
      case 'running':
        this.item.text = counts === '' ? '$(check) Meniscus' : `$(beaker) ${counts}`
        this.item.command = 'workbench.actions.view.problems'
        break
      case 'off':
        this.item.text = '$(debug-disconnect) Meniscus is off'
        this.item.command = 'meniscus.restart'
        this.item.backgroundColor = new vscode.ThemeColor('statusBarItem.warningBackground')
    }
    this.item.accessibilityInformation = { label: `Meniscus: ${this.state}, ${counts || 'nothing found'}` }
    this.item.show()
  }

  private counts(uri: vscode.Uri): string {
    const findings = vscode.languages.getDiagnostics(uri).filter(finding => finding.source === 'meniscus')
    return SEVERITIES.map(([severity, word]) => {
      const count = findings.filter(finding => finding.severity === severity).length
      return count === 0 ? '' : `${count} ${word}${count === 1 ? '' : 's'}`
    })
      .filter(Boolean)
      .join(', ')
  }

  dispose(): void {
    this.listeners.dispose()
    this.item.dispose()
  }
}
