// A strict RFC 8259 reader that, unlike JSON.parse, refuses a name that occurs
// twice in one object (RFC 8259 section 4: names SHOULD be unique; the
// behaviour of software that receives a repeat is unpredictable).

export function parseStrict(text) {
  if (text.charCodeAt(0) === 0xfeff) throw new Error('byte order mark before the JSON text')
  JSON.parse(text) // grammar first, so that the scan below may assume it
  let i = 0
  const space = () => { while (/[ \t\r\n]/.test(text[i] ?? '')) i++ }
  const string = () => {
    const start = i++
    while (text[i] !== '"') i += text[i] === '\\' ? 2 : 1
    i++
    return JSON.parse(text.slice(start, i))
  }
  const value = path => {
    space()
    const c = text[i]
    if (c === '{') {
      i++
      const seen = new Set()
      space()
      if (text[i] === '}') { i++; return }
      for (;;) {
        space()
        const key = string()
        if (seen.has(key)) throw new Error(`duplicate JSON key at ${path}.${key}`)
        seen.add(key)
        space()
        i++ // the colon
        value(`${path}.${key}`)
        space()
        if (text[i++] === '}') return
      }
    }
    if (c === '[') {
      i++
      space()
      if (text[i] === ']') { i++; return }
      for (let n = 0; ; n++) {
        value(`${path}[${n}]`)
        space()
        if (text[i++] === ']') return
      }
    }
    if (c === '"') { string(); return }
    while (i < text.length && !/[,\]}\s]/.test(text[i])) i++
  }
  value('$')
  return JSON.parse(text)
}
