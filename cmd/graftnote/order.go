package main

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
