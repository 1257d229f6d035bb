// Package cores shares work out over the cores of the machine.
package cores

import (
	"runtime"
	"sync"
	"sync/atomic"
)

// Each calls do for 0 to n-1 on all cores, each number as soon as a core is free for
// it, the low ones first. The calling goroutine does its share: another one has to be
// woken, and has a small stack that grows by copies.
func Each(n int, do func(int)) {
	var next atomic.Int64
	share := func() {
		for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
			do(i)
		}
	}
	var wait sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), n) - 1 {
		wait.Go(share)
	}
	share()
	wait.Wait()
}

// EachOf is Each for many numbers that take little time, so many at a time.
func EachOf(n, stride int, do func(int)) {
	Each((n+stride-1)/stride, func(part int) {
		for i := part * stride; i < min(n, (part+1)*stride); i++ {
			do(i)
		}
	})
}

// Beside begins to compute something on another core and returns what waits for it.
func Beside[T any](compute func() T) (wait func() T) { return Ahead(compute)[0] }

// Ahead is Beside for several things, one after another. What is needed before its turn
// has come is computed by whoever waits for it.
func Ahead[T any](computes ...func() T) (waits []func() T) {
	for _, compute := range computes {
		waits = append(waits, sync.OnceValue(compute))
	}
	go func() {
		for _, wait := range waits {
			wait()
		}
	}()
	return waits
}
