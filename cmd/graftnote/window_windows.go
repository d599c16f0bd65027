package main

import (
	"fmt"
	"os"

	"github.com/inconshreveable/mousetrap"
)

// holdWindow waits for Enter when the program was started by a double click:
// its window would close before anything could be read.
func holdWindow() {
	if mousetrap.StartedByExplorer() {
		fmt.Fprint(os.Stderr, "\nPress Enter to close this window.")
		var key [1]byte
		_, _ = os.Stdin.Read(key[:])
	}
}
