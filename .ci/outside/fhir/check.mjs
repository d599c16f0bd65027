// node check.mjs [--allow MAPPING.csv]... [--codesystem CODESYSTEM.json]... BUNDLE.json...
//
// Exit 0 only when every bundle has no error. Warnings are counted and printed.
// --allow: a site mapping (header with columns system and code) whose codes a
// site may use though no list at hand holds them. --codesystem: a CodeSystem
// resource that travels with the product; it is checked as well.

import { readFileSync } from 'node:fs'
import { basename } from 'node:path'
import { checkResourceText } from './checker.mjs'

const files = []
const allowed = new Set()
const codeSystems = new Map()
const systemFiles = []
for (let a = process.argv.slice(2); a.length;) {
  const arg = a.shift()
  if (arg === '--allow') readMapping(a.shift())
  else if (arg === '--codesystem') systemFiles.push(a.shift())
  else if (arg.startsWith('--')) throw new Error(`unknown option ${arg}`)
  else files.push(arg)
}
if (files.length === 0) {
  console.error('no bundle given: nothing was checked')
  process.exit(2)
}

function readMapping(path) {
  const rows = readFileSync(path, 'utf8').split(/\r?\n/).filter(l => l && !l.startsWith('#'))
    .map(l => [...l.matchAll(/("(?:[^"]|"")*"|[^,]*)(,|$)/g)].map(m => m[1].replace(/^"|"$/g, '').replaceAll('""', '"')))
  const head = rows.shift()
  const s = head.indexOf('system')
  const c = head.indexOf('code')
  if (s < 0 || c < 0) throw new Error(`${basename(path)} has no columns system and code`)
  for (const r of rows) allowed.add(`${r[s]}|${r[c]}`)
}

for (const f of systemFiles) {
  const r = JSON.parse(readFileSync(f, 'utf8'))
  codeSystems.set(r.url, r)
}

let bad = 0
let warned = 0
let resources = 0
const run = (file, bundle) => {
  const r = checkResourceText(readFileSync(file, 'utf8'), { allowed, codeSystems, bundle })
  console.log(`${r.errors.length ? 'FAIL' : 'ok  '} ${basename(file)}: ${r.resources} resources, ${r.errors.length} errors, ${r.warnings.length} warnings`)
  r.errors.forEach(e => console.log(`  error   ${e}`))
  // The same warning at many places is one line with a count.
  const groups = new Map()
  for (const w of r.warnings) {
    const what = w.slice(w.indexOf(': ') + 2)
    groups.set(what, (groups.get(what) ?? 0) + 1)
  }
  groups.forEach((n, what) => console.log(`  warning ${n} x ${what}`))
  if (r.errors.length) bad++
  warned += r.warnings.length
  resources += r.resources
}
systemFiles.forEach(f => run(f, false))
files.forEach(f => run(f, true))
console.log(`${files.length} bundles, ${systemFiles.length} code systems, ${resources} resources, ${bad} files refused, ${warned} warnings`)
process.exit(bad ? 1 : 0)
