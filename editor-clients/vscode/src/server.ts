// Finds the server, and tells whether it fits the client.
import * as fs from 'node:fs'
import * as os from 'node:os'
import * as path from 'node:path'

const NAME = process.platform === 'win32' ? 'meniscus.exe' : 'meniscus'

export const INSTALL =
  'Install it from its source folder with `cargo install --path server/meniscus --locked`, or name its path in the setting meniscus.server.path.'

export type Found = { program: string } | { trouble: string }

function isProgram(file: string): boolean {
  try {
    fs.accessSync(file, fs.constants.X_OK)
    return fs.statSync(file).isFile()
  } catch {
    return false
  }
}

/** Where the server is: what the setting names, else the search path, where cargo installs, and in the extension. */
export function findServer(setting: string, extensionPath: string): Found {
  if (setting.trim() !== '') {
    const named = setting.trim().replace(/^~(?=$|[\\/])/, os.homedir())
    if (!path.isAbsolute(named)) {
      return { trouble: `The setting meniscus.server.path is \`${setting}\`, which is no absolute path: write the whole path.` }
    }
    return isProgram(named)
      ? { program: named }
      : { trouble: `The setting meniscus.server.path names \`${named}\`, and there is no program there: mend the path, or empty the setting.` }
  }
  // A relative folder on the search path would be one of the workspace.
  const searched = (process.env['PATH'] ?? '').split(path.delimiter).filter(path.isAbsolute)
  const cargo = process.env['CARGO_HOME'] || path.join(os.homedir(), '.cargo')
  const folders = [...searched, path.join(cargo, 'bin'), path.join(extensionPath, 'server')]
  const program = folders.map(folder => path.join(folder, NAME)).find(isProgram)
  return program ? { program } : { trouble: `There is no program \`${NAME}\` on the search path. ${INSTALL}` }
}

/** What to do where client and server are of different versions; before 1.0 the second number counts. */
export function mismatch(client: string, server: string | undefined): string | undefined {
  const parts = (version: string) => version.split(/[.+-]/, 2).map(Number)
  const [ours, theirs] = [parts(client), parts(server ?? '')]
  const [major = 0, minor = 0] = ours
  const fits = theirs[0] === major && (major > 0 || theirs[1] === minor)
  if (fits) return undefined
  if (server === undefined) return 'The server does not tell its version: update it, else some of the extension may not work.'
  const newer = theirs[0]! > major || (theirs[0] === major && theirs[1]! > minor)
  return newer
    ? `The server (${server}) is newer than the extension (${client}): update the extension, else some of it may not work.`
    : `The server (${server}) is older than the extension (${client}): update the server, else some of it may not work.`
}
