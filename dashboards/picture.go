package dashboards

import (
	"bytes"
	"context"

	"weighbeam/dashboards/chart"
)

// Evidence returns a function that draws the chart a finding is about, as PNG,
// for a message that can carry a picture, and says in words what it shows. It
// returns nil where a finding is about nothing that is drawn.
func Evidence(store Store, look Outlooker, opts Options) func(ctx context.Context, finding string) (png []byte, words string, err error) {
	p := newPages(store, look, opts)
	return func(ctx context.Context, finding string) ([]byte, string, error) {
		f, err := p.store.Finding(ctx, finding)
		if err != nil || f.Cat == "" {
			return nil, "", err
		}
		s, ok, err := p.about(ctx, f)
		if err != nil || !ok {
			return nil, "", err
		}
		var png bytes.Buffer
		err = s.picture.PNG(&png, chart.Wide)
		return png.Bytes(), s.picture.Title + ". " + s.picture.Desc, err
	}
}
