package mesh

import "context"

func (in *input) readOBJ(ctx context.Context, r *raw) error { return in.fail("reading this format is not built yet", "") }

func (in *input) readTextSTL(ctx context.Context, r *raw) error { return in.fail("reading this format is not built yet", "") }
