package main

import (
	"os"
	"runtime"
	"runtime/debug"
	"runtime/metrics"
)

const (
	lateHeap  = 128 << 20 // bytes of memory up to which nothing is collected
	leastHeap = 4 << 20   // for which the runtime takes 100 %, whatever is in use
)

// collectLate puts garbage collection off until the program has taken lateHeap
// bytes. A check of a usual notebook is over before, and would spend a quarter
// of its time on collecting. Where little of it is in use then, as while one
// notebook is checked after another, the next collection waits for as much again,
// which saves a sixth of that time; of a large heap the environment decides, or
// where it does not, the next one waits for 70 % more, which costs no time yet.
func collectLate() {
	percent := debug.SetGCPercent(lateHeap / leastHeap * 100)
	if percent < 0 { // the environment wants no collection
		debug.SetGCPercent(percent)
		return
	}
	var collected func(struct{})
	await := func() {
		// The cleanup runs after the next collection, since nothing holds the
		// object. Smaller ones share a block of memory, which others may hold.
		runtime.AddCleanup(new([16]byte), collected, struct{}{})
	}
	collected = func(struct{}) {
		live := []metrics.Sample{{Name: "/gc/heap/live:bytes"}}
		metrics.Read(live)
		used, next := int(max(live[0].Value.Uint64(), 1<<20)), percent
		if used > lateHeap && os.Getenv("GOGC") == "" {
			next = min(next, 70)
		}
		debug.SetGCPercent(max(next, 100*(lateHeap-used)/used))
		await()
	}
	await()
}
