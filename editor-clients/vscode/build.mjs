// Bundles the client. `node build.mjs --server PROGRAM` puts a server into the extension too.
import { build } from 'esbuild'
import { execFileSync } from 'node:child_process'
import { chmodSync, copyFileSync, mkdirSync, rmSync } from 'node:fs'
import { basename, join, resolve } from 'node:path'
import { fileURLToPath } from 'node:url'
import { parseArgs } from 'node:util'

const { values } = parseArgs({ options: { server: { type: 'string' } } })
// npm runs this in the folder of the package, wherever it was called.
const server = values.server && resolve(process.env.INIT_CWD ?? '.', values.server)
process.chdir(fileURLToPath(new URL('.', import.meta.url)))

execFileSync(process.execPath, ['node_modules/typescript/bin/tsc'], { stdio: 'inherit' })
await build({
  entryPoints: ['src/extension.ts'],
  outfile: 'dist/extension.js',
  bundle: true,
  platform: 'node',
  format: 'cjs',
  target: 'node20',
  external: ['vscode'],
  minify: true,
  legalComments: 'linked',
})
copyFileSync('../../examples/slips.prep', 'dist/example.prep')
copyFileSync('../../server/checks/CHECKS.md', 'dist/checks.md')
copyFileSync('../../LICENSE', 'LICENSE')
rmSync('server', { recursive: true, force: true })
if (server) {
  mkdirSync('server')
  const program = join('server', basename(server))
  copyFileSync(server, program)
  chmodSync(program, 0o755)
}
