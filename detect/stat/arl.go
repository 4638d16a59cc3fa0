package stat

import (
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// The average run length of a chart is how many values it takes on average,
// the signalling one included, from a sum of zero to a signal, for independent
// normal values of standard deviation one about mu. It is found by cutting the
// range of the chart's state in cells and solving the Markov chain between them
// (Brook & Evans 1972), once with n cells and once with 2n, from which the
// limit for ever finer cells is extrapolated.
const arlCells = 80

// CUSUMARL is the average run length of an upper cumulative sum with slack k
// and limit h (h > 0), both in standard deviations.
func CUSUMARL(k, h, mu float64) float64 {
	if !(h > 0) || !isFinite(h) || !isFinite(k) || !isFinite(mu) {
		return math.NaN()
	}
	return refine(func(cells int) float64 { return cusumChain(k, h, mu, cells) })
}

// CUSUMARLTwoSided is the average run length of an upper and a lower sum run
// together: their rates of signalling add (Lucas & Crosier 1982).
func CUSUMARLTwoSided(k, h, mu float64) float64 {
	return 1 / (1/CUSUMARL(k, h, mu) + 1/CUSUMARL(k, h, -mu))
}

// CUSUMLimit is the limit h at which an upper cumulative sum with slack k has
// the average run length arl0 when nothing has changed. For both sides together
// ask for twice arl0. NaN where arl0 is not over 2 or k is negative.
func CUSUMLimit(k, arl0 float64) float64 {
	if !(arl0 > 2) || !isFinite(arl0) || !(k >= 0) {
		return math.NaN()
	}
	return solveLog(func(h float64) float64 { return CUSUMARL(k, h, 0) }, arl0, 0.1, 2)
}

// EWMAARL is the average run length of an average with share lambda between
// the limits that it settles at, l of its own standard deviations.
func EWMAARL(lambda, l, mu float64) float64 {
	if !(lambda > 0) || lambda > 1 || !(l > 0) || !isFinite(l) || !isFinite(mu) {
		return math.NaN()
	}
	return refine(func(cells int) float64 { return ewmaChain(lambda, l, mu, cells+1) })
}

// EWMALimit is the l at which an average with share lambda has the average run
// length arl0 when nothing has changed.
func EWMALimit(lambda, arl0 float64) float64 {
	if !(arl0 > 2) || !isFinite(arl0) || !(lambda > 0) || lambda > 1 {
		return math.NaN()
	}
	return solveLog(func(l float64) float64 { return EWMAARL(lambda, l, 0) }, arl0, 0.3, 2)
}

// cusumChain puts the state in cells of width w, the first from 0 to w/2 and the
// others about multiples of w, so that the limit is the upper edge of the last.
func cusumChain(k, h, mu float64, cells int) float64 {
	w := 2 * h / (2*float64(cells) - 1)
	normal := distuv.Normal{Mu: mu, Sigma: 1}
	return solveChain(cells, 0, func(i, j int) float64 {
		step := float64(j-i)*w + k
		if j == 0 {
			return normal.CDF(step + w/2)
		}
		return normal.CDF(step+w/2) - normal.CDF(step-w/2)
	})
}

func ewmaChain(lambda, l, mu float64, cells int) float64 {
	half := l * math.Sqrt(lambda/(2-lambda))
	w := 2 * half / float64(cells)
	normal := distuv.Normal{Mu: mu, Sigma: 1}
	centre := func(i int) float64 { return -half + (float64(i)+0.5)*w }
	return solveChain(cells, cells/2, func(i, j int) float64 {
		need := (centre(j) - (1-lambda)*centre(i)) / lambda
		return normal.CDF(need+w/2/lambda) - normal.CDF(need-w/2/lambda)
	})
}

// solveChain is the mean number of steps until a chain with the given transition
// probabilities between its transient states leaves them, from state start:
// the solution of (I - P) x = 1.
func solveChain(n, start int, p func(i, j int) float64) float64 {
	a := mat.NewDense(n, n, nil)
	ones := mat.NewVecDense(n, nil)
	for i := range n {
		ones.SetVec(i, 1)
		for j := range n {
			v := -p(i, j)
			if i == j {
				v++
			}
			a.Set(i, j, v)
		}
	}
	var x mat.VecDense
	if err := x.SolveVec(a, ones); err != nil && x.Len() != n {
		return math.NaN()
	}
	return x.AtVec(start)
}

// refine extrapolates a figure whose error falls with the square of the cell
// width (Richardson).
func refine(f func(cells int) float64) float64 {
	coarse, fine := f(arlCells), f(2*arlCells)
	return fine + (fine-coarse)/3
}

// solveLog finds x with f(x) = want for a rising f whose logarithm is nearly a
// straight line in x, by secants from the two starts.
func solveLog(f func(float64) float64, want, a, b float64) float64 {
	goal := math.Log(want)
	fa, fb := math.Log(f(a))-goal, math.Log(f(b))-goal
	for range 60 {
		if math.Abs(fb) < 1e-10 || fa == fb {
			break
		}
		next := b - fb*(b-a)/(fb-fa)
		next = max(b/2, min(2*b, next))
		a, fa = b, fb
		b, fb = next, math.Log(f(next))-goal
	}
	return b
}
