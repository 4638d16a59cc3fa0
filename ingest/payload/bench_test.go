package payload

import "testing"

func BenchmarkSenMLJSON(b *testing.B) {
	body := []byte(`[{"bn":"box-1:","bt":1741003199,"n":"seq","v":77},{"n":"load","u":"kg","v":4.5}]`)
	b.ReportAllocs()
	for b.Loop() {
		if got, err := SenMLJSON(body, arrival, box); err != nil || len(got) != 1 {
			b.Fatal(err)
		}
	}
}

func BenchmarkNumber(b *testing.B) {
	body := []byte("4.512")
	b.ReportAllocs()
	for b.Loop() {
		if got, err := number(body, arrival, box); err != nil || len(got) != 1 {
			b.Fatal(err)
		}
	}
}
