package store

import (
	"bytes"
	"context"
	"crypto/rand"
	"fmt"
	"io"
	"strings"
	"testing"
)

// onBothBench runs a benchmark on each engine, on a store with one part, one
// plan of about the size of a real one, and one piece.
func onBothBench(b *testing.B, bench func(b *testing.B, s *Store, plan Plan, piece Piece)) {
	for _, engine := range engines {
		b.Run(engine, func(b *testing.B) {
			s := openTest(b, configFor(b, engine))
			ctx := context.Background()
			part := must(s.AddPart(ctx, Part{Name: "p"}))(b)
			plan := must(s.AddPlan(ctx, benchPlan(part.ID)))(b)
			piece := must(s.AddPiece(ctx, Piece{PartID: part.ID, Name: "1"}))(b)
			warm(b, s)
			bench(b, s, plan, piece)
		})
	}
}

// warm makes the connections of the pools, which takes PostgreSQL a while.
func warm(b *testing.B, s *Store) {
	for range min(8, s.read.Stats().MaxOpenConnections) {
		conn := must(s.read.Conn(b.Context()))(b)
		defer conn.Close()
	}
}

func benchPlan(part string) Plan {
	p := testPlan(part, 1)
	p.Result = `{"passes":["` + strings.Repeat("0.1 ", 10_000) + `"]}`
	return p
}

func BenchmarkAppend(b *testing.B) {
	for _, lot := range []int{1, 100} {
		b.Run(fmt.Sprintf("lots of %d", lot), func(b *testing.B) {
			onBothBench(b, func(b *testing.B, s *Store, plan Plan, piece Piece) {
				for b.Loop() {
					events := make([]Event, lot)
					for i := range events {
						events[i] = Event{PlanID: plan.ID, Kind: "pass", Body: `{"depth_mm":0.1}`}
					}
					must(s.Append(b.Context(), piece.ID, events...))(b)
				}
				b.ReportMetric(float64(b.N*lot)/b.Elapsed().Seconds(), "entries/s")
			})
		})
	}
}

func BenchmarkAppendFromMany(b *testing.B) {
	onBothBench(b, func(b *testing.B, s *Store, plan Plan, _ Piece) {
		b.SetParallelism(4)
		b.RunParallel(func(pb *testing.PB) {
			piece := must(s.AddPiece(context.Background(), Piece{PartID: plan.PartID, Name: "x"}))(b)
			for pb.Next() {
				must(s.Append(context.Background(), piece.ID, Event{PlanID: plan.ID, Kind: "pass"}))(b)
			}
		})
		b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "entries/s")
	})
}

func BenchmarkAddPlan(b *testing.B) {
	onBothBench(b, func(b *testing.B, s *Store, plan Plan, _ Piece) {
		for b.Loop() {
			must(s.AddPlan(b.Context(), benchPlan(plan.PartID)))(b)
		}
	})
}

func BenchmarkReadPlan(b *testing.B) {
	onBothBench(b, func(b *testing.B, s *Store, plan Plan, _ Piece) {
		b.RunParallel(func(pb *testing.PB) {
			for pb.Next() {
				must(s.Plan(context.Background(), plan.ID))(b)
			}
		})
		b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "reads/s")
	})
}

func BenchmarkReadLog(b *testing.B) {
	onBothBench(b, func(b *testing.B, s *Store, plan Plan, piece Piece) {
		events := make([]Event, 50)
		for i := range events {
			events[i] = Event{PlanID: plan.ID, Kind: "pass", Body: `{"depth_mm":0.1}`}
		}
		must(s.Append(b.Context(), piece.ID, events...))(b)
		for b.Loop() {
			must(s.Events(b.Context(), piece.ID, 0))(b)
		}
	})
}

func BenchmarkPutBlob(b *testing.B) {
	folder := must(Folder(b.TempDir()))(b)
	for _, size := range []int{10_000, 1_000_000, 50_000_000} {
		b.Run(fmt.Sprintf("%d kB", size/1000), func(b *testing.B) {
			content := make([]byte, size)
			b.SetBytes(int64(size))
			for b.Loop() {
				rand.Read(content[:32])
				_, _, err := folder.Put(b.Context(), bytes.NewReader(content))
				if err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkExport(b *testing.B) {
	onBothBench(b, func(b *testing.B, s *Store, plan Plan, piece Piece) {
		for range 100 {
			must(s.AddPlan(b.Context(), benchPlan(plan.PartID)))(b)
		}
		must(s.AddFile(b.Context(), File{About: About{PieceID: piece.ID}, Kind: "photo", Name: "x", Media: "image/jpeg"}, bytes.NewReader(make([]byte, 10_000_000))))(b)
		for b.Loop() {
			if err := s.Export(b.Context(), io.Discard); err != nil {
				b.Fatal(err)
			}
		}
	})
}

func BenchmarkOpen(b *testing.B) {
	onBothBench(b, func(b *testing.B, s *Store, _ Plan, _ Piece) {
		for b.Loop() {
			again, err := Open(b.Context(), Config{Dir: s.dir, URL: s.address, Log: s.log})
			if err != nil {
				b.Fatal(err)
			}
			if err := again.Close(); err != nil {
				b.Fatal(err)
			}
		}
	})
}
