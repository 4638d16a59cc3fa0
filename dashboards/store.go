package dashboards

import (
	"context"
	"time"

	"weighbeam/home"
)

// Store is what the pages read. Ranges are half open, [from, to).
type Store interface {
	Household(ctx context.Context) (home.Household, error)
	Weighings(ctx context.Context, cat string, from, to time.Time) ([]home.Weighing, error)              // time order
	Counts(ctx context.Context, cat string, q home.Quantity, from, to time.Time) ([]home.Reading, error) // time order
	Checks(ctx context.Context, cat string, from, to time.Time) ([]home.HomeCheck, error)                // newest first
	Care(ctx context.Context, cat string, from, to time.Time) ([]home.Care, error)                       // oldest first; what holds at some time of the range
	Corrections(ctx context.Context, cat string) ([]home.Correction, error)                              // oldest first
	VisitsOf(ctx context.Context, cat string, from, to time.Time) ([]home.Visit, error)                  // by start
	Visits(ctx context.Context, source string, from, to time.Time) ([]home.Visit, error)                 // time order
	Sources(ctx context.Context) ([]home.SourceStatus, error)
	NamedCats(ctx context.Context, h home.Household, since time.Time) ([]home.NamedCat, error) // cats that h does not know, named since
	Findings(ctx context.Context, openOnly bool, since time.Time) ([]home.Finding, error)      // newest first
	Finding(ctx context.Context, id string) (home.Finding, error)                              // home.ErrNotFound, wrapped
	Notices(ctx context.Context, finding string) ([]home.Notice, error)                        // "" for all; newest first
	SetAsides(ctx context.Context, limit int) ([]home.SetAside, error)                         // newest first
}

// Outlooker says what is known of a cat now.
type Outlooker interface {
	Outlook(cat string) home.Outlook
	Trend(cat string) []home.TrendPoint // of weight in kg, in time order
}
