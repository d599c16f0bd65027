package pdf

import "strings"

// style is one way to set type; size in points.
type style struct {
	bold bool
	size float64
}

const pointMM = 25.4 / 72

// width is the length of clean text in millimetres.
func (s *faceSet) width(text string, st style) float64 {
	f := s.regular
	if st.bold {
		f = s.bold
	}
	sum := 0
	for _, r := range text {
		if r < 0x10000 {
			sum += f.width[s.glyphOf[r]]
		}
	}
	return float64(sum) * st.size * pointMM / 1000
}

// wrap breaks clean text into lines no wider than width millimetres. It
// breaks at line feeds and plain spaces, after a hyphen or slash inside a
// word, and inside a word only when the word alone is too wide. A no-break
// space never breaks, so a number stays with its unit.
func (s *faceSet) wrap(text string, st style, width float64) []string {
	var lines []string
	for para := range strings.SplitSeq(text, "\n") {
		lines = s.wrapLine(lines, para, st, width)
	}
	return lines
}

func (s *faceSet) wrapLine(lines []string, para string, st style, width float64) []string {
	if s.width(para, st) <= width {
		return append(lines, strings.TrimRight(para, " "))
	}
	start, used := 0, 0.0 // of the current line
	for at := 0; at < len(para); {
		end := nextBreak(para, at)
		piece := s.width(strings.TrimRight(para[at:end], " "), st)
		if used+piece > width && at > start {
			lines = append(lines, strings.TrimRight(para[start:at], " "))
			start, used = at, 0
		}
		if used+piece > width { // at == start: a word wider than the line
			word := strings.TrimRight(para[at:end], " ")
			for n := s.fitting(word, st, width); n < len(word); n = s.fitting(word, st, width) {
				lines = append(lines, word[:n])
				word = word[n:]
				at += n
			}
			start = at
		}
		used += s.width(para[at:end], st)
		at = end
	}
	if rest := strings.TrimRight(para[start:], " "); rest != "" || start == 0 {
		lines = append(lines, rest)
	}
	return lines
}

// nextBreak returns the end of the piece that starts at from: trailing
// spaces belong to it.
func nextBreak(para string, from int) int {
	for i := from; i < len(para); i++ {
		switch para[i] {
		case ' ':
			for i < len(para) && para[i] == ' ' {
				i++
			}
			return i
		case '-', '/':
			if i > from && i+1 < len(para) && isLetter(para[i-1]) && isLetter(para[i+1]) {
				return i + 1
			}
		}
	}
	return len(para)
}

// isLetter also takes every byte of a longer UTF-8 sequence for a letter;
// 0xA0 continues the no-break space, which must not allow a break.
func isLetter(b byte) bool {
	return b >= 'a' && b <= 'z' || b >= 'A' && b <= 'Z' || b >= 0x80 && b != 0xA0
}

// fitting returns how many bytes of word fit into width, at least one rune,
// never ending inside a spelled-out code point.
func (s *faceSet) fitting(word string, st style, width float64) int {
	used, end := 0.0, 0
	for i, r := range word {
		used += s.width(string(r), st)
		if used > width && i > 0 {
			end = i
			break
		}
	}
	if end == 0 {
		return len(word)
	}
	if open := strings.LastIndex(word[:end], "[U+"); open > 0 && !strings.Contains(word[open:end], "]") {
		return open
	}
	return end
}
