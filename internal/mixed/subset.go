package mixed

// everyGroup is the frame of every so many of the outermost groups: groups are
// independent, so that some of them, evenly spaced, tell roughly what all do. Only for chains.
func (f *frame) everyGroup(every int) *frame {
	l := *f.layout
	l.size, l.parent, l.notices = nil, nil, nil
	keep := make([]bool, f.size[0])
	for i := 0; i < len(keep); i += every {
		keep[i] = true
	}
	var above []int32 // old node → new node
	for k := range f.size {
		if k > 0 {
			keep = make([]bool, f.size[k])
			for n, par := range f.parent[k] {
				keep[n] = above[par] >= 0
			}
		}
		number, parent, size := make([]int32, f.size[k]), make([]int32, 0, f.size[k]/every), 0
		for n, yes := range keep {
			if number[n] = -1; yes {
				number[n] = int32(size)
				size++
				par := int32(0)
				if k > 0 {
					par = above[f.parent[k][n]]
				}
				parent = append(parent, par)
			}
		}
		l.size, l.parent, above = append(l.size, size), append(l.parent, parent), number
	}
	g := *f
	g.layout = &l
	g.takeLeaves(f, &l, keep)
	return &g
}

// takeLeaves copies the observations of the leaves kept.
func (g *frame) takeLeaves(f *frame, l *layout, keep []bool) {
	l.order, l.pieceStart, l.leafStart = nil, []int32{0}, []int32{0}
	l.row, l.background, l.sumOf, l.sums = nil, nil, nil, nil
	g.y, g.r, g.logExp, g.exposure, g.constant = nil, nil, nil, nil, 0
	for leaf, yes := range keep {
		if !yes {
			continue
		}
		for i := f.leafStart[leaf]; i < f.leafStart[leaf+1]; i++ {
			from, to := f.pieceStart[i], f.pieceStart[i+1]
			if f.sumOf != nil {
				s := f.sum(int(i))
				l.sumOf = append(l.sumOf, 0)
				if s != nil {
					moved := sumParts{trials: s.trials}
					for _, e := range s.pieceEnd {
						moved.pieceEnd = append(moved.pieceEnd, e-from+int32(len(l.row)))
					}
					l.sums = append(l.sums, moved)
					l.sumOf[len(l.sumOf)-1] = int32(len(l.sums))
				}
			}
			l.order = append(l.order, f.order[i])
			g.y, g.r = append(g.y, f.y[i]), append(g.r, f.r[i])
			l.row, l.background = append(l.row, f.row[from:to]...), append(l.background, f.background[from:to]...)
			g.logExp, g.exposure = append(g.logExp, f.logExp[from:to]...), append(g.exposure, f.exposure[from:to]...)
			l.pieceStart = append(l.pieceStart, int32(len(l.row)))
		}
		l.leafStart = append(l.leafStart, int32(len(l.order)))
	}
	l.logExp, l.exposure = g.logExp, g.exposure
}
