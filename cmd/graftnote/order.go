package main

import "sync"

// outcomeOf is what a function gave, or what it panicked with.
type outcomeOf[T any] struct {
	value    T
	panicked any
}

// caught keeps a panic, for the main goroutine to raise again: the message of a
// panic may hold a value of an entry, and only the main goroutine keeps it from
// the terminal.
func caught[T any](f func() T) (o outcomeOf[T]) {
	defer func() { o.panicked = recover() }()
	o.value = f()
	return o
}

// get gives the value, or panics as the function did.
func (o outcomeOf[T]) get() T {
	if o.panicked != nil {
		panic(o.panicked)
	}
	return o.value
}

// apart runs f in a goroutine of its own. The function that it gives waits for the
// end.
func apart[T any](f func() T) (wait func() T) {
	done := make(chan outcomeOf[T], 1)
	go func() { done <- caught(f) }()
	return sync.OnceValue(func() T { return (<-done).get() })
}

// inOrder does work on items 0 to n-1 with several workers and hands the
// results to done in the order of the items. The results that wait are bounded,
// so that memory does not grow with n. It stops early when more is false.
func inOrder[T any](n, workers int, more func() bool, work func(i int) T, done func(i int, t T)) {
	workers = max(1, min(workers, n))
	type task struct {
		i      int
		result chan T
	}
	tasks := make(chan task)
	waiting := make(chan task, 4*workers)
	for range workers {
		go func() {
			for t := range tasks {
				t.result <- work(t.i)
			}
		}()
	}
	go func() {
		defer close(waiting)
		defer close(tasks)
		for i := 0; i < n && more(); i++ {
			t := task{i, make(chan T, 1)}
			waiting <- t
			tasks <- t
		}
	}()
	for t := range waiting {
		done(t.i, <-t.result)
	}
}
