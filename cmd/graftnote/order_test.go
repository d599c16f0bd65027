package main

import (
	"errors"
	"testing"
)

// A panic of a worker is raised where the main goroutine catches it, so that its
// message is not printed by the runtime.
func TestPanicsAreCarriedOver(t *testing.T) {
	wait := apart(func() int { panic("a value of an entry") })
	if o := caught(wait); o.panicked == nil {
		t.Error("the panic was lost")
	}
	if n := apart(func() int { return 7 })(); n != 7 {
		t.Errorf("got %d", n)
	}
	if err := apart(func() error { return errors.ErrUnsupported })(); !errors.Is(err, errors.ErrUnsupported) {
		t.Errorf("got %v", err)
	}
}
