package rates

import (
	"context"

	"soakline/internal/assay"
)

// Curve is the survival curve of one group.
type Curve struct {
	Group       string    `json:"group"`
	Deployments int       `json:"deployments"`
	Sites       int       `json:"sites"`
	Clusters    int       `json:"clusters"`
	ClusterBy   string    `json:"cluster"`
	Band        string    `json:"band"`
	Survival    []Stretch `json:"survival"`
}

// Stretch is the share of baits still there, over soaks on which it is determined.
type Stretch struct {
	FromH    float64              `json:"from_h"`
	ToH      float64              `json:"to_h"`
	Survival float64              `json:"survival"`
	Lower    assay.Maybe[float64] `json:"lower"`
	Upper    assay.Maybe[float64] `json:"upper"`
}

func (r *Result) group(ctx context.Context, ds []assay.Deployment, in []int, readings []*reading, o *Options) error {
	return ctx.Err()
}
