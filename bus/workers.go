package bus

import (
	"runtime"
	"sync"
	"sync/atomic"
)

// chunk is how many stations are looked at in one go.
const chunk = 64

// inChunks calls f for ranges of at most [chunk] of n stations, on all processors when
// there are several. Results that f keeps by the number of the chunk do not depend
// on how many there are.
func inChunks(n int, f func(k, from, to int)) {
	chunks := (n + chunk - 1) / chunk
	each := func(k int) { f(k, k*chunk, min(n, (k+1)*chunk)) }
	workers := min(chunks, runtime.GOMAXPROCS(0))
	if workers < 2 {
		for k := range chunks {
			each(k)
		}
		return
	}
	var next atomic.Int64
	var wait sync.WaitGroup
	for range workers {
		wait.Add(1)
		go func() {
			defer wait.Done()
			for k := int(next.Add(1)) - 1; k < chunks; k = int(next.Add(1)) - 1 {
				each(k)
			}
		}()
	}
	wait.Wait()
}

// atOnce calls functions at the same time and returns the error of the first one, in their
// order, that has one.
func atOnce(each ...func() error) error {
	errs := make([]error, len(each))
	var wait sync.WaitGroup
	for i, f := range each {
		wait.Add(1)
		go func() {
			defer wait.Done()
			errs[i] = f()
		}()
	}
	wait.Wait()
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}
