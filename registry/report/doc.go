// Package report makes the audit report of a series of operations: counts,
// rates with their intervals, acuity, astigmatism, graft survival and the
// learning curve, each beside the published figures and their sources. It works
// on de-identified rows alone and names nobody.
//
// Counts under the smallest shown count are hidden, with others that would give
// them away, and so is everything that is derived from a hidden count: a
// percentage, an interval, a mean, a step of a curve. All counts of one report
// are hidden together (registry/figures, Mask). What the rows say is counted
// once and shown in several forms: Build makes the page-neutral report, HTML
// writes it as a web page, Series gives the same figures as a table.
//
// Charts are laid out by the plotting library gonum.org/v1/plot and kept as
// lines, areas and texts.
//
// It must not know names, entries, pages or the clock.
package report
