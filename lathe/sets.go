package lathe

import (
	"math/bits"
	"slices"
)

// set is a choice of driving (or of driven) wheels, one for each stage, whatever
// their order.
type set struct {
	product int64
	mask    uint64  // one bit for each size of wheel used
	wheels  [3]int8 // indexes of sizes, rising
	least   int16   // teeth of the smallest
}

// stock is the change gears owned, by size.
type stock struct {
	teeth []int16 // sizes, rising
	count []int8  // how many of each
}

func stockOf(owned []int) stock {
	var s stock
	for _, z := range slices.Sorted(slices.Values(owned)) {
		if n := len(s.teeth); n > 0 && int(s.teeth[n-1]) == z {
			s.count[n-1]++
			continue
		}
		s.teeth = append(s.teeth, int16(z))
		s.count = append(s.count, 1)
	}
	return s
}

// mask returns the sizes that a chain uses.
func (s stock) mask(c *chain) uint64 {
	var m uint64
	for k := int8(0); k <= c.last; k++ {
		for _, z := range [2]int16{c.in[k], c.out[k]} {
			if i, ok := slices.BinarySearch(s.teeth, z); ok {
				m |= 1 << i
			}
		}
	}
	return m
}

// sets lists every choice of n wheels, by rising product.
func (s stock) sets(n int) []set {
	var all []set
	var pick func(from, depth int, cur set)
	pick = func(from, depth int, cur set) {
		if depth == n {
			all = append(all, cur)
			return
		}
		for i := from; i < len(s.teeth); i++ {
			if !s.fits(cur, depth, i) {
				continue
			}
			next := cur
			next.wheels[depth] = int8(i)
			next.product *= int64(s.teeth[i])
			next.mask |= 1 << i
			if depth == 0 {
				next.least = s.teeth[i]
			}
			pick(i, depth+1, next)
		}
	}
	pick(0, 0, set{product: 1})
	slices.SortFunc(all, func(a, b set) int {
		switch {
		case a.product != b.product:
			return int(min(1, max(-1, a.product-b.product)))
		default:
			return slices.Compare(a.wheels[:], b.wheels[:])
		}
	})
	return all
}

// fits reports whether one more wheel of size i is left over.
func (s stock) fits(cur set, depth, i int) bool {
	used := int8(0)
	for _, w := range cur.wheels[:depth] {
		if int(w) == i {
			used++
		}
	}
	return used < s.count[i]
}

// together reports whether drivers and driven wheels make a train worth trying.
// Two equal wheels, one driving and one driven, cancel out in a compound train:
// an idler does the same with less.
func (s stock) together(a, b *set, stages int) bool {
	if stages > 1 {
		return a.mask&b.mask == 0
	}
	return a.mask != b.mask || s.count[bits.TrailingZeros64(a.mask)] > 1
}
