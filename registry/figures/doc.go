// Package figures computes the statistics of the month-end report exactly as
// their sources publish them: intervals of proportions, survival of grafts,
// cumulative sums, power vectors, acuity in logMAR, and the masking of small
// counts. It also holds the published comparison figures
// and the cautions that must stand beside the numbers, both as data files.
//
// It works on plain numbers. It must not know about entries, rows, pages, files
// or the clock, and it imports nothing else of this module. A figure that
// cannot be had from the data is reported as absent, never as zero or NaN.
//
// Masking and derived figures: a percentage, an interval, a mean with its
// denominator and a survival step each give the count behind them away. Whoever
// prints a report masks the counts first and prints no figure derived from a
// masked count.
package figures
