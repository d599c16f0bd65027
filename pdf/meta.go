package pdf

import (
	"encoding/xml"
	"fmt"
	"sort"
	"strings"
	"time"
	"unicode/utf16"

	"graftnote/note"
)

// meta is what the file says about itself: never the patient, the surgeon or
// a word of the note.
type meta struct {
	title, producer, language string
	made                      time.Time
}

func newMeta(set *faceSet, title, language string, o Options) meta {
	m := meta{title: set.clean(title), producer: o.Producer, language: "en-GB", made: o.Made}
	m.title = strings.ReplaceAll(m.title, "\n", " ")
	if m.producer == "" {
		m.producer = "graftnote"
	}
	// BCP 47 tags hold letters, digits and hyphens only.
	if language != "" && strings.Trim(strings.ToLower(language), "abcdefghijklmnopqrstuvwxyz0123456789-") == "" {
		m.language = language
	}
	return m
}

// pdfDate follows ISO 32000-1 section 7.9.4.
func pdfDate(t time.Time) string {
	zone := t.Format("-0700")
	return "(D:" + t.Format("20060102150405") + zone[:3] + "'" + zone[3:] + "')"
}

var literalText = strings.NewReplacer(`\`, `\\`, "(", `\(`, ")", `\)`)

// pdfText is a text string (ISO 32000-1 section 7.9.2): ASCII as it is,
// anything else as UTF-16 in hexadecimal.
func pdfText(s string) string {
	plain := true
	for _, r := range s {
		plain = plain && r >= 0x20 && r < 0x7F
	}
	if plain {
		return "(" + literalText.Replace(s) + ")"
	}
	var out strings.Builder
	out.WriteString("<FEFF")
	for _, u := range utf16.Encode([]rune(s)) {
		fmt.Fprintf(&out, "%04X", u)
	}
	return out.String() + ">"
}

// pdfName writes a name object; every byte but letters, digits and a few
// signs is given by its number (ISO 32000-1 section 7.3.5).
func pdfName(s string) string {
	var out strings.Builder
	out.WriteByte('/')
	for _, b := range []byte(s) {
		if b >= '0' && b <= '9' || b >= 'A' && b <= 'Z' || b >= 'a' && b <= 'z' || strings.IndexByte("+-._", b) >= 0 {
			out.WriteByte(b)
		} else {
			fmt.Fprintf(&out, "#%02X", b)
		}
	}
	return out.String()
}

func (m meta) info() string {
	s := "<</Title " + pdfText(m.title) + " /Producer " + pdfText(m.producer)
	if !m.made.IsZero() {
		s += " /CreationDate " + pdfDate(m.made) + " /ModDate " + pdfDate(m.made)
	}
	return s + ">>"
}

func (m meta) catalog(xmp int, files []int, names string) string {
	s := fmt.Sprintf("<</Type /Catalog /Pages 1 0 R /Lang %s /Metadata %d 0 R /ViewerPreferences <</DisplayDocTitle true>>", pdfText(m.language), xmp)
	if len(files) > 0 {
		refs := make([]string, len(files))
		for i, n := range files {
			refs[i] = fmt.Sprintf("%d 0 R", n)
		}
		s += " /AF [" + strings.Join(refs, " ") + "] /Names <</EmbeddedFiles <</Names [" + names + "]>>>>"
	}
	return s + ">>"
}

// xmpObject is the metadata stream, uncompressed as readers without a PDF
// library expect it. It agrees with the information dictionary.
func (m meta) xmpObject() string {
	esc := func(s string) string {
		var b strings.Builder
		_ = xml.EscapeText(&b, []byte(s)) // a Builder does not fail
		return b.String()
	}
	dates := ""
	if !m.made.IsZero() {
		t := m.made.Format("2006-01-02T15:04:05-07:00")
		dates = "<xmp:CreateDate>" + t + "</xmp:CreateDate><xmp:ModifyDate>" + t + "</xmp:ModifyDate><xmp:MetadataDate>" + t + "</xmp:MetadataDate>"
	}
	packet := "<?xpacket begin=\"\uFEFF\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>\n" +
		`<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">` +
		`<rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/" xmlns:xmp="http://ns.adobe.com/xap/1.0/" xmlns:pdf="http://ns.adobe.com/pdf/1.3/">` +
		`<dc:format>application/pdf</dc:format><dc:title><rdf:Alt><rdf:li xml:lang="x-default">` + esc(m.title) + `</rdf:li></rdf:Alt></dc:title>` +
		`<dc:language><rdf:Bag><rdf:li>` + esc(m.language) + `</rdf:li></rdf:Bag></dc:language>` +
		`<pdf:Producer>` + esc(m.producer) + `</pdf:Producer>` + dates +
		"</rdf:Description></rdf:RDF></x:xmpmeta>\n<?xpacket end=\"r\"?>"
	return fmt.Sprintf("<</Type /Metadata /Subtype /XML /Length %d>>\nstream\n%s\nendstream", len(packet), packet)
}

// treeBytes is a text string as its bytes stand in the file's name tree.
func treeBytes(s string) string {
	if pdfText(s)[0] == '(' {
		return s
	}
	return "\xFE" + pdfText(s)
}

// attachments embeds the files as associated files (ISO 32000-2 section
// 14.13, as used with PDF 1.7 by ISO 19005-3) and returns their objects and
// the entries of the name tree.
func (a *assembly) attachments(files []note.Attachment, o Options) (objects []int, names string) {
	keys := map[string]int{}
	var order []string
	for i, f := range files {
		n := a.free(2)
		params := fmt.Sprintf("/Size %d /CheckSum <%s>", len(f.Data), checkSum(f.Data))
		if !o.Made.IsZero() {
			params += " /ModDate " + pdfDate(o.Made)
		}
		mime := f.MIME
		if mime == "" {
			mime = "application/octet-stream"
		}
		a.stream(n, "/Type /EmbeddedFile /Subtype "+pdfName(mime)+" /Params <<"+params+">>", f.Data)
		name := f.Name
		if name == "" {
			name = fmt.Sprintf("file-%d", i+1)
		}
		// The first file is what the note was made from, the others go with it.
		relation := "Supplement"
		if i == 0 {
			relation = "Source"
		}
		a.object(n+1, fmt.Sprintf("<</Type /Filespec /F %s /UF %s /Desc %s /AFRelationship /%s /EF <</F %d 0 R /UF %d 0 R>>>>",
			pdfText(name), pdfText(name), pdfText(f.Description), relation, n, n))
		objects = append(objects, n+1)
		key := name
		for k := 2; keys[key] != 0; k++ {
			key = fmt.Sprintf("%s (%d)", name, k)
		}
		keys[key] = n + 1
		order = append(order, key)
	}
	// A name tree is sorted by bytes; a name in UTF-16 begins with 0xFE and so
	// comes after the plain ones.
	sort.SliceStable(order, func(i, j int) bool { return treeBytes(order[i]) < treeBytes(order[j]) })
	for _, k := range order {
		names += fmt.Sprintf("%s %d 0 R ", pdfText(k), keys[k])
	}
	return objects, names
}
