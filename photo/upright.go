package photo

import (
	"image"
	"image/draw"
)

// upright undoes an Exif orientation, so that the picture stands as it was seen:
//
//	value            1     2      3       4       5     6      7       8
//	first row is     top   top    bottom  bottom  left  right  right   left
//	first column is  left  right  right   left    top   top    bottom  bottom
//
// Source: Exif (CIPA DC-008), tag 274 Orientation; from memory, and checked against
// ImageMagick and exiftool.
func upright(img image.Image, orientation int) image.Image {
	if orientation < 2 || orientation > 8 {
		return img
	}
	b := img.Bounds()
	w, h := b.Dx(), b.Dy()
	if orientation >= 5 {
		w, h = h, w
	}
	to := image.Rect(0, 0, w, h)
	switch src := img.(type) {
	case *image.Gray:
		dst := image.NewGray(to)
		turn(dst.Pix, dst.Stride, w, h, orientation, func(x, y int) uint8 { return src.Pix[src.PixOffset(b.Min.X+x, b.Min.Y+y)] })
		return dst
	case *image.YCbCr:
		dst := image.NewYCbCr(to, image.YCbCrSubsampleRatio444)
		turn(dst.Y, dst.YStride, w, h, orientation, func(x, y int) uint8 { return src.Y[src.YOffset(b.Min.X+x, b.Min.Y+y)] })
		turn(dst.Cb, dst.CStride, w, h, orientation, func(x, y int) uint8 { return src.Cb[src.COffset(b.Min.X+x, b.Min.Y+y)] })
		turn(dst.Cr, dst.CStride, w, h, orientation, func(x, y int) uint8 { return src.Cr[src.COffset(b.Min.X+x, b.Min.Y+y)] })
		return dst
	}
	from := image.Rect(0, 0, b.Dx(), b.Dy())
	switch img.(type) {
	case *image.RGBA64, *image.NRGBA64, *image.Gray16:
		flat, dst := image.NewRGBA64(from), image.NewRGBA64(to)
		draw.Draw(flat, from, img, b.Min, draw.Src)
		move(dst.Pix, flat.Pix, 8, w, h, orientation)
		return dst
	}
	flat, dst := image.NewRGBA(from), image.NewRGBA(to)
	draw.Draw(flat, from, img, b.Min, draw.Src)
	move(dst.Pix, flat.Pix, 4, w, h, orientation)
	return dst
}

// move fills pixels of several bytes, w x h of them, from where each was stored.
func move(dst, src []uint8, size, w, h, orientation int) {
	wide := w
	if orientation >= 5 {
		wide = h
	}
	for y := range h {
		for x := range w {
			sx, sy := stored(x, y, w, h, orientation)
			copy(dst[(y*w+x)*size:][:size], src[(sy*wide+sx)*size:])
		}
	}
}

// turn fills a plane of w x h bytes from where each was stored.
func turn(dst []uint8, stride, w, h, orientation int, at func(x, y int) uint8) {
	for y := range h {
		row := dst[y*stride:][:w]
		for x := range row {
			row[x] = at(stored(x, y, w, h, orientation))
		}
	}
}

// stored says where the pixel lies in the file that belongs at (x, y) in an upright
// picture of w x h.
func stored(x, y, w, h, orientation int) (int, int) {
	switch orientation {
	case 2:
		return w - 1 - x, y
	case 3:
		return w - 1 - x, h - 1 - y
	case 4:
		return x, h - 1 - y
	case 5:
		return y, x
	case 6:
		return y, w - 1 - x
	case 7:
		return h - 1 - y, w - 1 - x
	case 8:
		return h - 1 - y, x
	}
	return x, y
}
