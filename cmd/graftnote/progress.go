package main

import (
	"time"

	"github.com/schollz/progressbar/v3"
)

// bar shows how far a run over several entries is, on standard error and only
// when a person watches it.
type bar struct{ bar *progressbar.ProgressBar }

func (a *app) newBar(what string, n int) *bar {
	if n < 2 || !a.env.terminal(a.print.errs) {
		return &bar{}
	}
	return &bar{progressbar.NewOptions(n, progressbar.OptionSetWriter(a.print.errs), progressbar.OptionSetDescription(what),
		progressbar.OptionShowCount(), progressbar.OptionThrottle(100*time.Millisecond), progressbar.OptionClearOnFinish())}
}

func (b *bar) step() {
	if b.bar != nil {
		_ = b.bar.Add(1) // it can only fail to draw itself
	}
}

func (b *bar) end() {
	if b.bar != nil {
		_ = b.bar.Finish()
	}
}

// reach moves the bar to a place.
func (b *bar) reach(n int64) {
	if b.bar != nil {
		_ = b.bar.Set64(n) // it can only fail to draw itself
	}
}
