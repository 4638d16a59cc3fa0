package visit

// median reorders v and returns its middle, 0 for none: the mean of the two
// middle ones where their number is even.
func median(v []float64) float64 {
	n := len(v)
	if n == 0 {
		return 0
	}
	hi := nth(v, n/2)
	if n%2 == 1 {
		return hi
	}
	lo := v[0]
	for _, x := range v[:n/2] {
		lo = max(lo, x)
	}
	return (lo + hi) / 2
}

// nth reorders v so that v[k] is the one that sorting would put there, with none
// greater before it, and returns it (Hoare, Communications of the ACM 4 (1961) 321).
func nth(v []float64, k int) float64 {
	lo, hi := 0, len(v)-1
	for lo < hi {
		pivot := v[(lo+hi)/2]
		i, j := lo, hi
		for i <= j {
			for v[i] < pivot {
				i++
			}
			for v[j] > pivot {
				j--
			}
			if i <= j {
				v[i], v[j] = v[j], v[i]
				i++
				j--
			}
		}
		if k <= j {
			hi = j
		} else if k >= i {
			lo = i
		} else {
			break
		}
	}
	return v[k]
}
