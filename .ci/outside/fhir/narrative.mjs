// Narrative.div: well-formed XHTML in its namespace, holding only what FHIR R4
// allows there (hl7.org/fhir/R4/narrative.html: the HTML 4.0 elements of
// chapters 7 to 11 except section 4 of chapter 9, and 15, plus a, img and
// style attributes; no scripts, forms, links to style sheets or event handlers).

import sax from 'sax'

const XHTML = 'http://www.w3.org/1999/xhtml'
const tags = new Set(('div p br hr h1 h2 h3 h4 h5 h6 span em strong b i u s tt big small sub sup dfn code samp kbd var cite abbr acronym ' +
  'blockquote q pre ins del ul ol li dl dt dd table caption thead tbody tfoot tr th td col colgroup a img address bdo font strike').split(' '))

// narrativeFaults lists what is wrong with one div.
export function narrativeFaults(div) {
  const faults = []
  const parser = sax.parser(true, { xmlns: true, strictEntities: true })
  let root
  let text = ''
  parser.onerror = e => {
    faults.push(`not well-formed XML: ${e.message.split('\n')[0]}`)
    parser.error = null
  }
  parser.ondoctype = () => faults.push('DOCTYPE')
  parser.onprocessinginstruction = () => faults.push('processing instruction')
  parser.onopentag = t => {
    root ??= t
    if (t.uri !== XHTML) faults.push(`<${t.name}> is not in the XHTML namespace`)
    if (!tags.has(t.local)) faults.push(`<${t.name}> is not allowed`)
    if (t.local === 'img') text += 'x'
    for (const a of Object.values(t.attributes)) {
      if (/^on/i.test(a.local)) faults.push(`event attribute ${a.name}`)
      if (/^\s*javascript:/i.test(a.value)) faults.push(`script in ${a.name}`)
    }
  }
  parser.ontext = t => { text += t }
  parser.write(div).close()
  if (root?.local !== 'div') faults.push('root is not <div>')
  if (text.trim() === '') faults.push('no text')
  return [...new Set(faults)]
}
