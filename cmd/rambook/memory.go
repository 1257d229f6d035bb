package main

import (
	"os"
	"runtime"
	"runtime/debug"
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
	set := lateHeap / leastHeap * 100 // the percentage that holds
	percent := debug.SetGCPercent(set)
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
		var stats runtime.MemStats
		runtime.ReadMemStats(&stats)
		// What is in use is told by the size at which the next collection was to begin.
		used, next := max(int(stats.NextGC)/(100+set)*100, 1<<20), percent
		if used > lateHeap && os.Getenv("GOGC") == "" {
			next = min(next, 70)
		}
		set = max(next, 100*(lateHeap-used)/used)
		debug.SetGCPercent(set)
		await()
	}
	await()
}
