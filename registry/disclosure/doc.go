// Package disclosure measures how well the people in a set of rows are hidden
// among each other, and coarsens or suppresses rows until they are.
//
// It counts people, not rows: a person with both eyes operated on is one person.
// It works on the whole cumulative set, because files released month by month
// add up. Its columns, their coarser forms and the thresholds come from the
// caller as data; it knows no clinical value. It must not know about entries,
// files or the clock, and it imports nothing else of this module. The same rows
// and policy always give the same result.
//
// What it does not protect against. k-anonymity hides who a row belongs to among
// k people that share the columns named as quasi-identifiers. It does not help
// against a reader who knows a column that was not named, against a class whose
// people all have the same outcome (see Diversity), or against a comparison with
// an earlier release of the same rows in finer form. In a rare operation at a
// small unit k people may not exist. Whether rows may be released is the decision
// of the controller and the data-protection officer.
package disclosure
