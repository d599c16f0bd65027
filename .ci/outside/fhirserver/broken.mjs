// Bundles that a check must refuse: the first sample under another case and one
// fault each, written to files of a temporary folder.
import { mkdtempSync, readFileSync, readdirSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'

const faults = [
  {
    name: 'an entry that is sought by its fullUrl',
    change: b => {
      const e = b.entry.find(x => x.resource.resourceType === 'Provenance')
      e.resource.meta = { source: e.fullUrl }
      e.request.ifNoneExist = `_source=${encodeURIComponent(e.fullUrl)}`
    },
    expect: /first time refused/,
  },
  {
    name: 'an entry that is made every time',
    change: b => { delete b.entry.find(x => x.resource.resourceType === 'Observation').request.ifNoneExist },
    expect: /was made a second time|the second time made something/,
  },
  {
    name: 'an entry that another entry is found by',
    change: b => {
      const [one, two] = b.entry.filter(x => x.resource.resourceType === 'Observation')
      two.request.ifNoneExist = one.request.ifNoneExist
    },
    expect: /answers|refused|comes back different|finds/,
  },
  {
    name: 'a PDF that does not fit its hash',
    change: b => { b.entry.find(x => x.resource.resourceType === 'DocumentReference').resource.content[0].attachment.hash = 'AAAAAAAAAAAAAAAAAAAAAAAAAAA=' },
    expect: /does not fit its hash/,
  },
  {
    name: 'a resource that names nobody',
    change: b => { b.entry.find(x => x.resource.resourceType === 'Procedure').resource.subject.reference = 'urn:uuid:00000000-0000-5000-8000-999999999999' },
    expect: /refused|different/,
  },
]

// broken writes one file for each fault.
export function broken(folder) {
  const first = readdirSync(folder).filter(f => f.endsWith('.bundle.json')).sort()[0]
  const name = first.replace(/\.bundle\.json$/, '')
  const text = readFileSync(join(folder, first), 'utf8')
  const out = mkdtempSync(join(tmpdir(), 'broken-'))
  return faults.map((f, i) => {
    const other = `zz${i}-broken`
    // Names of resources are made from the case: give each another one.
    const b = JSON.parse(text.replaceAll(`${name}.`, `${other}.`).replace(/urn:uuid:..../g, `urn:uuid:${String(i).repeat(4)}`))
    f.change(b)
    const file = join(out, `${other}.bundle.json`)
    writeFileSync(file, JSON.stringify(b))
    writeFileSync(join(out, `${other}.note.pdf`), readFileSync(join(folder, `${name}.note.pdf`)))
    return { ...f, file }
  })
}
