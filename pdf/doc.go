// Package pdf draws a note.Document on paper and returns the file.
//
// The words, tables and millimetres come ready in the document. This package
// chooses type, line breaks and page breaks, and decides nothing clinical.
//
// The page library (go-pdf/fpdf) draws pages and lines. Two things are done
// here instead. Faces: the library parses each face and hashes a table of
// 65,536 widths for every single file; here a face is prepared once for the
// process and each note gets a small subset. File assembly: the library knows
// no associated files, file identifier or PDF 1.7 header; finish.go rewrites
// its objects and adds those.
//
// The same document and options always give the same bytes.
package pdf
