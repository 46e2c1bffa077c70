// The grammar by itself, with the engine that VS Code runs: line by line, what is what.
import { readFileSync } from 'node:fs'
import { createRequire } from 'node:module'
import { join } from 'node:path'
import { CODE_SERVER, MENISCUS_ROOT, same } from './harness.mjs'


const { lines } = JSON.parse(readFileSync(join(MENISCUS_ROOT, 'tests/editors/colours.json'), 'utf8'))

export async function tokens(test) {
  const require = createRequire(join(CODE_SERVER, 'lib/vscode/package.json'))
  const textmate = require('vscode-textmate')
  const oniguruma = require('vscode-oniguruma')
  await oniguruma.loadWASM(readFileSync(require.resolve('vscode-oniguruma/release/onig.wasm')))
  const path = join(MENISCUS_ROOT, 'editor-clients/vscode/syntaxes/prep.tmLanguage.json')
  const registry = new textmate.Registry({
    onigLib: Promise.resolve({
      createOnigScanner: patterns => new oniguruma.OnigScanner(patterns),
      createOnigString: text => new oniguruma.OnigString(text),
    }),
    loadGrammar: async () => textmate.parseRawGrammar(readFileSync(path, 'utf8'), path),
  })
  const grammar = await registry.loadGrammar('source.prep')
  let state = textmate.INITIAL
  const read = []
  for (const [line] of lines) {
    const result = grammar.tokenizeLine(line, state)
    state = result.ruleStack
    read.push(
      result.tokens
        .filter(token => token.scopes.length > 1)
        .map(token => {
          const scope = token.scopes.at(-1).replace(/(?:\.line\.number-sign)?\.prep$/, '')
          return [line.slice(token.startIndex, token.endIndex), scope]
        }),
    )
  }
  const scopeOf = (header, line, part) => {
    const { ruleStack } = grammar.tokenizeLine(header, textmate.INITIAL)
    const at = line.indexOf(part)
    const token = grammar.tokenizeLine(line, ruleStack).tokens.find(token => token.startIndex === at && token.endIndex === at + part.length)
    return token?.scopes.at(-1)
  }
  const source = readFileSync(join(MENISCUS_ROOT, 'server/syntax/src/ast.rs'), 'utf8')
  const verbs = /^verbs! \{\n([^}]*)\}/m.exec(source)[1].matchAll(/"([^"]+)"/g)
  const units = /^Units: ([^;]*);/m.exec(readFileSync(join(MENISCUS_ROOT, 'server/syntax/GRAMMAR.md'), 'utf8'))[1]
  await test('the grammar knows every verb and every unit of the language', () => {
    const names = [...verbs].map(([, name]) => name)
    same('there are verbs', true, names.length > 100)
    same('verbs that are not coloured', [], names.filter(name => !/^(support.function.verb|keyword.other.statement)/.test(scopeOf('steps', `  ${name} flask`, name))))
    // `% RH` has a space, which the line of units has between others too.
    const spelled = units.replace('% RH', '').split(/[\s·]+/).filter(Boolean).concat('% RH', 'mL/g', 'mmol/h')
    same('there are units', true, spelled.length > 50)
    same('units that are not coloured', [], spelled.filter(unit => scopeOf('materials', `  a: b, 1.5 ${unit}, c`, unit) !== 'keyword.other.unit.prep'))
  })
  await test('the grammar colours lines as the language reads them', () => {
    lines.forEach(([line, expected], number) => same(line, expected, read[number]))
  })
}
