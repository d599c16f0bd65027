package pdf

import (
	"errors"
	"strings"
)

// Paper is a sheet, in millimetres.
type Paper struct {
	Name   string
	Width  float64
	Height float64
}

// The two supported sheets. A4: ISO 216. Letter: ANSI/ASME Y14.1, size A.
var (
	A4     = Paper{Name: "A4", Width: 210, Height: 297}
	Letter = Paper{Name: "Letter", Width: 215.9, Height: 279.4}
)

// ErrPaper says that a paper name is neither A4 nor Letter.
var ErrPaper = errors.New("pdf: paper must be A4 or Letter")

// PaperByName returns the sheet with that name; letter case does not matter.
func PaperByName(name string) (Paper, error) {
	for _, p := range []Paper{A4, Letter} {
		if strings.EqualFold(name, p.Name) {
			return p, nil
		}
	}
	return Paper{}, ErrPaper
}

// One layout serves both sheets: it stays inside the area they share, less
// the margin, and is measured from the top left. A note printed on the other
// sheet at actual size therefore loses nothing.
const (
	margin    = 15.0
	bodyLeft  = margin
	bodyWidth = 210 - 2*margin
	bodyRight = bodyLeft + bodyWidth
	pageTop   = margin
	pageFoot  = 279.4 - margin
)
