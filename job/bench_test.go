package job

import (
	"testing"
	"time"
)

// From asking for a job to its result, with nothing else to do.
func BenchmarkLatency(b *testing.B) {
	onBothBench(b, func(b *testing.B, q Queue) {
		for b.Loop() {
			id := enqueue(b, q, Request{Kind: "shout"})
			for {
				s, err := q.Status(b.Context(), id)
				if err != nil {
					b.Fatal(err)
				}
				if s.State == Done {
					break
				}
				time.Sleep(5 * time.Millisecond)
			}
		}
	})
}

func BenchmarkEnqueue(b *testing.B) {
	onBothBench(b, func(b *testing.B, q Queue) {
		for b.Loop() {
			enqueue(b, q, Request{Kind: "shout"})
		}
	})
}

func onBothBench(b *testing.B, bench func(b *testing.B, q Queue)) {
	for _, engine := range engines {
		b.Run(engine, func(b *testing.B) {
			st := openTest(b, configFor(b, engine))
			q, _ := start(b, st, map[string]Kind{"shout": {Do: shout}})
			bench(b, q)
		})
	}
}
