package main

import "io/fs"

// openToOthers can't be told from the mode: on Windows the folder decides.
func openToOthers(fs.FileMode) bool { return false }
