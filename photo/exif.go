package photo

import (
	"bytes"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/bep/imagemeta"

	"thrum/unit"
)

// exifTags are those beside orientation and model.
var exifTags = []string{"FocalLength", "FocalLengthIn35mmFormat", "ExposureTime", "FNumber", "ISO"}

// exif fills in the few tags that bear on measuring. A file without them, or
// with damaged ones, is as good as any other.
func exif(m *Meta, b []byte) {
	kind := map[Format]imagemeta.ImageFormat{JPEG: imagemeta.JPEG, PNG: imagemeta.PNG, TIFF: imagemeta.TIFF, WebP: imagemeta.WebP, HEIC: imagemeta.HEIF}[m.Format]
	found := *m
	_, err := imagemeta.Decode(imagemeta.Options{
		R: bytes.NewReader(b), ImageFormat: kind, Sources: imagemeta.EXIF,
		LimitNumTags: 1000, LimitTagSize: 64, Timeout: 2 * time.Second,
		ShouldHandleTag: func(t imagemeta.TagInfo) bool {
			if t.Namespace == "IFD0" {
				return t.Tag == "Orientation" || t.Tag == "Model"
			}
			return strings.HasPrefix(t.Namespace, "IFD0/Exif") && slices.Contains(exifTags, t.Tag)
		},
		HandleTag: func(t imagemeta.TagInfo) error {
			if name, ok := t.Value.(string); ok && t.Tag == "Model" {
				found.Exposure.Camera = strings.ToValidUTF8(strings.TrimSpace(strings.Trim(name, "\x00")), "")
				return nil
			}
			v, ok := number(t.Value)
			if !ok {
				return nil
			}
			switch t.Tag {
			case "Orientation":
				if v >= 1 && v <= 8 {
					found.Turned = int(v)
				}
			case "FocalLength":
				if v > 0.1 && v < 5000 {
					found.Focal = unit.Length(v)
				}
			case "FocalLengthIn35mmFormat":
				if v >= 5 && v < 5000 {
					found.Focal35 = unit.Length(v)
				}
			case "ExposureTime":
				if v > 1e-6 && v < 1e4 {
					found.Exposure.Time = unit.Time(v)
				}
			case "FNumber":
				if v > 0.1 && v < 1000 {
					found.Exposure.FNumber = v
				}
			case "ISO":
				if v >= 1 && v < 1e8 {
					found.Exposure.ISO = v
				}
			}
			return nil
		},
	})
	if err == nil {
		*m = found
	}
}

// number turns the value of a tag into a figure.
func number(v any) (float64, bool) {
	var f float64
	switch v := v.(type) {
	case uint8:
		f = float64(v)
	case uint16:
		f = float64(v)
	case uint32:
		f = float64(v)
	case int:
		f = float64(v)
	case float64:
		f = v
	case interface{ Float64() float64 }:
		f = v.Float64()
	default:
		return 0, false
	}
	return f, !math.IsNaN(f) && !math.IsInf(f, 0)
}
