package store

import (
	"strings"
	"testing"
)

// A device is found by the hash of its secret until it is shut out; a plan of the
// rest of one piece does not stand for the part.
func TestDevicesAndPieces(t *testing.T) {
	for _, engine := range engines {
		t.Run(engine, func(t *testing.T) {
			t.Parallel()
			s := openTest(t, configFor(t, engine))
			hash := strings.Repeat("ab", 32)
			d, err := s.AddDevice(t.Context(), Device{Name: "Anna’s phone", Hash: hash})
			if err != nil {
				t.Fatal(err)
			}
			if got, err := s.DeviceByHash(t.Context(), hash); err != nil || got != d {
				t.Errorf("found %+v, %v", got, err)
			}
			if _, err := s.AddDevice(t.Context(), Device{Name: "another", Hash: hash}); CodeOf(err) != Conflict {
				t.Errorf("the same secret twice: %v", err)
			}
			for _, bad := range []Device{{Name: "", Hash: hash}, {Name: "x", Hash: "secret"}, {Name: "x"}} {
				if _, err := s.AddDevice(t.Context(), bad); CodeOf(err) != Invalid {
					t.Errorf("%+v: %v", bad, err)
				}
			}
			other := must(s.As("elsewhere", "local"))(t)
			if _, err := other.DeviceByHash(t.Context(), hash); CodeOf(err) != NotFound {
				t.Errorf("another shop finds it: %v", err)
			}
			if err := other.RevokeDevice(t.Context(), d.ID); CodeOf(err) != NotFound {
				t.Errorf("another shop shuts it out: %v", err)
			}
			if err := s.RevokeDevice(t.Context(), d.ID); err != nil {
				t.Fatal(err)
			}
			if _, err := s.DeviceByHash(t.Context(), hash); CodeOf(err) != NotFound {
				t.Errorf("shut out it is still found: %v", err)
			}
			if all := must(s.Devices(t.Context()))(t); len(all) != 1 || !all[0].Revoked {
				t.Errorf("devices: %+v", all)
			}

			part := must(s.AddPart(t.Context(), Part{Name: "screw"}))(t)
			one := Plan{PartID: part.ID, Title: "M10", Schema: 1, Engine: "1", Request: "{}", Result: "{}"}
			whole := must(s.AddPlan(t.Context(), one))(t)
			piece := must(s.AddPiece(t.Context(), Piece{PartID: part.ID, Name: "1"}))(t)
			one.PieceID = piece.ID
			rest := must(s.AddPlan(t.Context(), one))(t)
			if rest.Revision != 2 || must(s.LatestPlan(t.Context(), part.ID))(t).ID != whole.ID || must(s.Plan(t.Context(), rest.ID))(t) != rest {
				t.Errorf("the plan of the rest: %+v", rest)
			}
			for _, id := range []string{"nothing", must(s.AddPiece(t.Context(), Piece{PartID: must(s.AddPart(t.Context(), Part{Name: "nut"}))(t).ID, Name: "1"}))(t).ID} {
				one.PieceID = id
				if _, err := s.AddPlan(t.Context(), one); err == nil {
					t.Errorf("a plan for the piece %q was kept", id)
				}
			}
		})
	}
}
