package app

import (
	"context"

	"weighbeam/home"
)

// inspecting lets one house at a time read its store through: they share the disk.
var inspecting = make(chan struct{}, 1)

// startInspect reads the whole store through once while the program already works, for
// damage in a part that is seldom read: see store.DB.Inspect.
func (a *App) startInspect(context.Context) error {
	a.spawn(func(ctx context.Context) {
		select {
		case inspecting <- struct{}{}:
			defer func() { <-inspecting }()
		case <-ctx.Done():
			return
		}
		if err := a.store.Inspect(ctx); err != nil && ctx.Err() == nil {
			a.opt.Log.Error("the store was read through", "err", err, "hint", home.Hint(err))
		}
	})
	return nil
}
