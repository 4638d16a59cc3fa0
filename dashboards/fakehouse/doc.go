// Package fakehouse is a household in memory for the tests of the pages: it
// answers as the store and the detector do, from made-up data that is the same
// on every run.
package fakehouse
