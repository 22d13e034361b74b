package prep

// Post is a place in the production line: the steps done there, by how many.
type Post struct {
	Steps   []string `json:"steps"`
	Helpers int      `json:"helpers"`
	Minutes float64  `json:"minutes"` // that each of them works
}

// Production is the line for so many baits.
type Production struct {
	Posts []Post `json:"posts"`
	// Minutes is when the busiest post is done, once all are at work.
	Minutes float64 `json:"minutes"`
	// Together is the least there can be: all the work shared evenly.
	Together float64 `json:"minutes_if_shared_evenly"`
}

// Produce shares the steps among helpers. With at least one helper a step, each
// further one goes where the most work is left for each; with fewer, a helper
// takes neighbouring steps, cut so that the busiest has the least (found by
// trying all cuts). Both are the least possible for whole helpers.
func Produce(steps []Step, baits float64, helpers int) Production {
	work := make([]float64, len(steps))
	var p Production
	for i, s := range steps {
		work[i] = s.Seconds * baits / 60
		p.Together += work[i]
	}
	if len(steps) == 0 || helpers < 1 {
		return p
	}
	p.Together /= float64(helpers)
	if helpers >= len(steps) {
		p.Posts = spread(steps, work, helpers)
	} else {
		p.Posts = cut(steps, work, helpers)
	}
	for _, x := range p.Posts {
		p.Minutes = max(p.Minutes, x.Minutes)
	}
	return p
}

func spread(steps []Step, work []float64, helpers int) []Post {
	n := make([]int, len(steps))
	for i := range n {
		n[i] = 1
	}
	for range helpers - len(steps) {
		most := 0
		for i := range n {
			if work[i]/float64(n[i]) > work[most]/float64(n[most]) {
				most = i
			}
		}
		n[most]++
	}
	posts := make([]Post, len(steps))
	for i, s := range steps {
		posts[i] = Post{Steps: []string{s.Name}, Helpers: n[i], Minutes: work[i] / float64(n[i])}
	}
	return posts
}

// cut divides the steps into runs, one for each helper, with the smallest
// largest sum.
func cut(steps []Step, work []float64, helpers int) []Post {
	if helpers == 1 {
		p := Post{Helpers: 1}
		for i, s := range steps {
			p.Steps = append(p.Steps, s.Name)
			p.Minutes += work[i]
		}
		return []Post{p}
	}
	var best []Post
	least := 0.0
	for first := 1; first <= len(steps)-helpers+1; first++ {
		head := cut(steps[:first], work[:first], 1)
		posts := append(head, cut(steps[first:], work[first:], helpers-1)...)
		busiest := 0.0
		for _, p := range posts {
			busiest = max(busiest, p.Minutes)
		}
		if best == nil || busiest < least {
			best, least = posts, busiest
		}
	}
	return best
}
