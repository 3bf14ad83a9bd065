package plan

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
)

// Engine is the version of the calculation; it changes whenever a figure of an
// unchanged request may change.
const Engine = "3"

// most is the largest encoded plan that Decode reads.
const most = 8 << 20

// Encode writes the plan as indented JSON. The same plan always gives the same bytes.
func Encode(w io.Writer, p *Plan) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	return e.Encode(p)
}

// Decode reads what Encode wrote, upgrading earlier schemas. It does not compute:
// a stored plan says what it said when it was made.
func Decode(r io.Reader) (*Plan, error) {
	data, err := io.ReadAll(io.LimitReader(r, most+1))
	if err != nil {
		return nil, err
	}
	if len(data) > most {
		return nil, fmt.Errorf("plan: larger than %d bytes", most)
	}
	var head struct {
		Schema int `json:"schema"`
	}
	if err := json.Unmarshal(data, &head); err != nil {
		return nil, fmt.Errorf("plan: %w", err)
	}
	if head.Schema < 1 || head.Schema > Schema {
		return nil, fmt.Errorf("plan: schema %d is not known; this program reads 1 to %d", head.Schema, Schema)
	}
	var p Plan
	d := json.NewDecoder(bytes.NewReader(data))
	if err := d.Decode(&p); err != nil {
		return nil, fmt.Errorf("plan: %w", err)
	}
	p.Spec, err = p.Request.thread()
	if err != nil {
		return nil, fmt.Errorf("plan: %w", err)
	}
	if p.Request.Plating > 0 {
		if p.Spec.Limits, err = p.Spec.ToPlate(p.Request.plating()); err != nil {
			return nil, fmt.Errorf("plan: %w", err)
		}
	}
	return &p, nil
}
