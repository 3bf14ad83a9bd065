package photo

import (
	"bytes"
	"strings"
)

// Format is the kind of a picture file, told from its first bytes.
type Format string

// What Sniff tells apart. The first five can be read.
const (
	JPEG    Format = "JPEG"
	PNG     Format = "PNG"
	TIFF    Format = "TIFF"
	WebP    Format = "WebP"
	HEIC    Format = "HEIC"
	AVIF    Format = "AVIF"
	JXL     Format = "JPEG XL"
	GIF     Format = "GIF"
	BMP     Format = "BMP"
	RawFile Format = "camera raw"
	Film    Format = "film"
	PDF     Format = "PDF"
	Words   Format = "text"
	Unknown Format = "unknown"
)

// Readable reports whether Decode reads this kind.
func (f Format) Readable() bool {
	switch f {
	case JPEG, PNG, TIFF, WebP, HEIC:
		return true
	}
	return false
}

// Sniff tells from its contents what kind a file is. Names are never looked at:
// telephones and mail programs give photographs all sorts of endings.
func Sniff(b []byte) Format {
	at := func(offset int, s string) bool {
		return len(b) >= offset+len(s) && string(b[offset:offset+len(s)]) == s
	}
	switch {
	case at(0, "\xff\xd8\xff"):
		return JPEG
	case at(0, "\x89PNG\r\n\x1a\n"):
		return PNG
	case at(0, "RIFF") && at(8, "WEBP"):
		if at(12, "VP8X") && len(b) > 20 && b[20]&2 != 0 { // the flag of an animation
			return Film
		}
		return WebP
	case at(0, "II*\x00"), at(0, "MM\x00*"):
		if at(8, "CR") || bytes.Contains(b[:min(len(b), 4096)], []byte("DNG")) {
			return RawFile
		}
		return TIFF
	case at(4, "ftyp"):
		return brand(b)
	case at(0, "\xff\x0a"), at(4, "JXL \r\n\x87\n"):
		return JXL
	case at(0, "GIF8"):
		return GIF
	case at(0, "BM") && at(6, "\x00\x00\x00\x00"):
		return BMP
	case at(0, "FUJIFILMCCD-RAW"), at(0, "IIRO"), at(0, "IIU\x00"):
		return RawFile
	case at(4, "moov"), at(4, "mdat"), at(0, "\x1aE\xdf\xa3"):
		return Film
	case at(0, "%PDF"):
		return PDF
	}
	if head := b[:min(len(b), 512)]; len(head) > 0 && !bytes.ContainsFunc(head, func(r rune) bool { return r < ' ' && !strings.ContainsRune("\t\r\n", r) || r == 0xFFFD }) {
		return Words
	}
	return Unknown
}

// brand tells the relatives of MP4 apart by the names in their first box.
func brand(b []byte) Format {
	end := min(len(b), 64)
	if len(b) >= 4 {
		end = min(end, int(b[2])<<8|int(b[3]))
	}
	f := Film
	for i := 8; i+4 <= end; i += 4 {
		switch string(b[i : i+4]) {
		case "heic", "heix", "heim", "heis", "hevc", "hevx":
			return HEIC
		case "avif", "avis":
			f = AVIF
		case "crx ":
			f = RawFile
		case "mif1", "msf1", "mif2":
			if f == Film {
				f = HEIC
			}
		}
	}
	return f
}

// unreadable says what a file is that Decode cannot read, and the way out.
func unreadable(f Format, length int) error {
	switch {
	case length == 0:
		return refuse("", "is empty", again)
	case f == RawFile:
		return refuse(f, "cannot be read directly", "let the camera's program save it as JPEG or TIFF")
	case f == Film:
		return refuse(f, "is a moving picture, not a photo", "take a photo; a still from a film is too coarse")
	case f == Unknown || f == Words || f == PDF:
		return refuse(f, "is not a photo, whatever its name says", "give a JPEG, PNG, TIFF, WebP or HEIC file")
	}
	return refuse(f, "is a picture of a kind that cannot be read", "save it as JPEG or PNG")
}
