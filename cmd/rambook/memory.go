package main

import (
	"os"
	"runtime"
	"runtime/debug"
	"runtime/metrics"
	"sync/atomic"
)

// The memory in bytes up to which nothing is collected. Many notebooks have more,
// since each is done with as soon as it has its line, and every collection goes
// over those that are not.
const (
	lateHeap = 64 << 20
	shopHeap = 128 << 20
)

// late is how the program collects garbage since collectLate.
var late struct {
	heap    atomic.Int64 // up to so many bytes it does not
	waiting atomic.Bool  // for the first collection
}

// collectLater puts garbage collection off further.
func collectLater(heap int64) {
	late.heap.Store(heap)
	if late.waiting.Load() {
		debug.SetMemoryLimit(heap)
	}
}

// collectLate puts garbage collection off until the program has taken lateHeap
// bytes. A check of a usual notebook is over before, and would spend a quarter
// of its time on collecting. Where little of it is in use then, as while one
// notebook is checked after another, the next collection waits for as much again,
// which saves a sixth of that time; of a large heap the environment decides, or
// where it does not, the next one waits for 70 % more, which costs no time yet.
func collectLate() {
	percent, limit := debug.SetGCPercent(-1), debug.SetMemoryLimit(-1)
	late.waiting.Store(true)
	collectLater(lateHeap)
	var collected func(first bool)
	await := func(first bool) {
		// The cleanup runs after the next collection, since nothing holds the
		// object. Smaller ones share a block of memory, which others may hold.
		runtime.AddCleanup(new([16]byte), collected, first)
	}
	collected = func(first bool) {
		if first {
			late.waiting.Store(false)
			debug.SetMemoryLimit(limit)
		}
		if percent < 0 { // the environment wants no collection
			debug.SetGCPercent(percent)
			return
		}
		live := []metrics.Sample{{Name: "/gc/heap/live:bytes"}}
		metrics.Read(live)
		used, heap := int(max(live[0].Value.Uint64(), 1<<20)), int(late.heap.Load())
		next := percent
		if used > 2*lateHeap && os.Getenv("GOGC") == "" {
			next = min(next, 70)
		}
		debug.SetGCPercent(max(next, 100*(heap-used)/used))
		await(false)
	}
	await(true)
}
