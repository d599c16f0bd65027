package report

import (
	"encoding/csv"
	"io"
	"regexp"
	"strings"
)

// CSV writes header and rows by RFC 4180, UTF-8 with CRLF. A text that a
// spreadsheet would take for a formula gets an apostrophe before it. Title and
// notes are not written: the file is for programs. The error is that of w.
func (t Table) CSV(w io.Writer) error {
	c := csv.NewWriter(w)
	c.UseCRLF = true
	for _, row := range append([][]string{t.Header}, t.Rows...) {
		out := make([]string, len(row))
		for i, cell := range row {
			out[i] = inert(cell)
		}
		if err := c.Write(out); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}

var plainNumber = regexp.MustCompile(`^-?[0-9]+(\.[0-9]+)?$`)

// inert disarms what spreadsheets run: CSV injection, as the OWASP page of that
// name lists the first characters (from memory, unverified), and their
// full-width forms.
func inert(cell string) string {
	if plainNumber.MatchString(cell) || !strings.ContainsAny(first(cell), "=+-@\t\r\n＝＋－＠") {
		return cell
	}
	return "'" + cell
}

func first(s string) string {
	for _, r := range s {
		return string(r)
	}
	return ""
}

var markdown = strings.NewReplacer(`\`, `\\`, "|", `\|`, "*", `\*`, "_", `\_`, "`", "\\`", "<", "&lt;", ">", "&gt;", "[", `\[`, "]", `\]`, "\n", " ", "\r", " ")

// Markdown writes title, table and notes as GitHub Flavored Markdown.
func (t Table) Markdown(w io.Writer) error {
	var b strings.Builder
	line := func(cells []string) {
		for _, c := range cells {
			b.WriteString("| " + markdown.Replace(c) + " ")
		}
		b.WriteString("|\n")
	}
	b.WriteString("## " + markdown.Replace(t.Title) + "\n\n")
	line(t.Header)
	b.WriteString(strings.Repeat("|---", 2) + strings.Repeat("|---:", len(t.Header)-3) + "|---|\n")
	for _, r := range t.Rows {
		line(r)
	}
	for _, n := range t.Notes {
		b.WriteString("\n" + markdown.Replace(n) + "\n")
	}
	_, err := io.WriteString(w, b.String())
	return err
}

var latex = strings.NewReplacer(`\`, `\textbackslash{}`, "&", `\&`, "%", `\%`, "$", `\$`, "#", `\#`, "_", `\_`, "{", `\{`, "}", `\}`,
	"~", `\textasciitilde{}`, "^", `\textasciicircum{}`, "<", `\textless{}`, ">", `\textgreater{}`, "|", `\textbar{}`, "\"", `\textquotedbl{}`,
	"°", `\textdegree{}`, "µ", `\textmu{}`, "±", `\(\pm\)`, "†", `\dag{}`, "[", "{[}", "]", "{]}", "\n", " ", "\r", " ")

// LaTeX writes the table for the packages longtable and booktabs, with the title
// as its caption and the notes below. The text is escaped: nothing in a row is
// run as a command.
func (t Table) LaTeX(w io.Writer) error {
	var b strings.Builder
	line := func(cells []string) string {
		out := make([]string, len(cells))
		for i, c := range cells {
			out[i] = latex.Replace(c)
		}
		return strings.Join(out, " & ") + ` \\` + "\n"
	}
	b.WriteString("% needs \\usepackage[T1]{fontenc} \\usepackage{textcomp,longtable,booktabs}\n")
	b.WriteString(`\begin{longtable}{l p{0.3\textwidth}` + strings.Repeat(" r", len(t.Header)-3) + " l}\n")
	b.WriteString(`\caption{` + latex.Replace(t.Title) + `}\\` + "\n\\toprule\n" + line(t.Header) + "\\midrule\n\\endfirsthead\n\\toprule\n" + line(t.Header) + "\\midrule\n\\endhead\n\\bottomrule\n\\endfoot\n")
	for _, r := range t.Rows {
		b.WriteString(line(r))
	}
	b.WriteString("\\end{longtable}\n")
	for _, n := range t.Notes {
		b.WriteString("\n\\noindent\\small " + latex.Replace(n) + "\n")
	}
	_, err := io.WriteString(w, b.String())
	return err
}
