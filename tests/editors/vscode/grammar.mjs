// The grammar by itself, with the engine that VS Code runs: line by line, what is what.
import { readFileSync } from 'node:fs'
import { createRequire } from 'node:module'
import { join } from 'node:path'
import { CODE_SERVER, MENISCUS_ROOT, same } from './harness.mjs'

// The rules are those of server/syntax/GRAMMAR.md; its numbers are named.
const LINES = [
  // 2: lines
  ['plan A title # and a comment', 'plan keyword.control.plan|A title entity.name.section|# and a comment comment'],
  ['scale 5.00 mmol ketone', 'scale keyword.other.statement|5.00 constant.numeric|mmol keyword.other.unit'],
  ['reaction a + 2 b → c', 'reaction keyword.other.statement|+ keyword.operator.arrow|2 constant.numeric|→ keyword.operator.arrow'],
  ['note heat to 80 °C # no', 'note keyword.other.statement| heat to 80 °C string.unquoted|# no comment'],
  ['materials', 'materials keyword.control.block'],
  // 1: no comment before a digit or inside a word; 4: locants are no numbers
  ['  thf: tetrahydrofuran, over 3 Å sieves, 10 ppm water, 25 mL',
    'thf variable.other.key|: punctuation.separator|over keyword.operator.word|3 constant.numeric|Å keyword.other.unit|10 constant.numeric|ppm keyword.other.unit|25 constant.numeric|mL keyword.other.unit'],
  ['  heat: 1,4-dioxane, lot #12, 20 µL', 'heat variable.other.key|: punctuation.separator|20 constant.numeric|µL keyword.other.unit'],
  ['  base: n-butyllithium, 2.5 M in hexanes, 1.15 eq', 'base variable.other.key|: punctuation.separator|2.5 constant.numeric|M keyword.other.unit|in keyword.operator.word|1.15 constant.numeric|eq keyword.other.unit'],
  ['  x: benzene, 10 mL/g', 'x variable.other.key|: punctuation.separator|10 constant.numeric|mL/g keyword.other.unit'],
  ['steps', 'steps keyword.control.block'],
  // 8: steps
  ['  evacuate and refill with argon, 3 cycles, 1 mbar',
    'evacuate and refill support.function.verb|with keyword.operator.word|3 constant.numeric|1 constant.numeric|mbar keyword.other.unit'],
  ['  cool to −78 °C, then stir for 5-10 min',
    'cool support.function.verb|to keyword.operator.word|−78 constant.numeric|°C keyword.other.unit|stir support.function.verb|for keyword.operator.word|5 constant.numeric|- keyword.operator|10 constant.numeric|min keyword.other.unit'],
  ['  in vial', 'in keyword.other.place'],
  ['  stir for 3 h, until no ketone by TLC', 'stir support.function.verb|for keyword.operator.word|3 constant.numeric|h keyword.other.unit|until keyword.operator.word|by keyword.operator.word'],
  ['  expect a deep yellow suspension', 'expect keyword.other.statement| a deep yellow suspension string.unquoted'],
  ['products', 'products keyword.control.block'],
  ['  heat: C11H20, expect 85 %', 'heat variable.other.key|: punctuation.separator|85 constant.numeric|% keyword.other.unit'],
]

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
  for (const [line] of LINES) {
    const result = grammar.tokenizeLine(line, state)
    state = result.ruleStack
    read.push(
      result.tokens
        .filter(token => token.scopes.length > 1)
        .map(token => {
          const scope = token.scopes.at(-1).replace(/(?:\.line\.number-sign)?\.prep$/, '')
          return `${line.slice(token.startIndex, token.endIndex)} ${scope}`
        })
        .join('|'),
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
    LINES.forEach(([line, expected], number) => same(line, expected, read[number]))
  })
}
