package main

// named are changes that would falsify a figure or open a door and that must each
// fail the tests beside it.
var named = []struct{ what, file, old, new, test string }{
	{"the reachable share x 0.97", "coverage/measure.go", "= ratio(inReach, reachM2), math.NaN()", "= 0.97*ratio(inReach, reachM2), math.NaN()", "./coverage"},
	{"the times of the reachable share x 0.9", "coverage/measure.go", "b.TimeToReachable[i] = m.timeTo(", "b.TimeToReachable[i] = 0.9 * m.timeTo(", "./coverage"},
	{"the reach of a tool wholly left of the centre", "coverage/reach.go", "least = math.Hypot(t.Ahead, r)", "least = math.Abs(t.Ahead)", "./coverage"},
	{"the reach of a tool wholly right of the centre", "coverage/reach.go", "least = math.Hypot(t.Ahead, l)", "least = math.Abs(t.Ahead)", "./coverage"},
	{"stuck is booked as standing", "coverage/conduct/ledger.go", "name = EntryStuck", "name = EntryStanding", "./coverage/conduct"},
	{"the way to the dock is booked as transit", "coverage/conduct/ledger.go", "name = EntryReturning", "name = EntryTransit", "./coverage/conduct"},
	{"the shortest time of a revisit halved", "coverage/conduct/options.go", "RevisitTime: 5,", "RevisitTime: 2.5,", "./coverage/conduct"},
	{"the shortest way of a revisit halved", "coverage/conduct/options.go", "RevisitWay: 1,", "RevisitWay: 0.5,", "./coverage/conduct"},
	{"the share of new floor in a revisit halved", "coverage/conduct/options.go", "RevisitShare: 0.05,", "RevisitShare: 0.025,", "./coverage/conduct"},
	{"the path's sigma x 3", "coverage/doubt/patherror.go", "m, rad = s.Sigma, s.SigmaH", "m, rad = 3*s.Sigma, 3*s.SigmaH", "./coverage/doubt"},
	{"the path's sigma x 3 where it states none", "coverage/doubt/options.go", "PathSigma: 0.005,", "PathSigma: 0.015,", "./coverage/doubt"},
	{"the tool's width x 3 as uncertain", "coverage/doubt/options.go", "WidthTol: 0.002,", "WidthTol: 0.006,", "./coverage/doubt"},
	{"the tool's place x 3 as uncertain", "coverage/doubt/options.go", "OffsetTol: 0.003,", "OffsetTol: 0.009,", "./coverage/doubt"},
	{"who turns at the dock's place is docked", "coverage/conduct/dock.go", "&& r.alongDock(r.ticks[k])", "", "./cmd/internal/courses -run TestOrdinaryRuns"},
	{"a token of any address is let through", "report/page/guard.go", "if g.token != \"\" && !g.allowed(w, r) {", "if false {", "./report/page"},
	{"any token is the right one", "report/page/guard.go", "[]byte(g.token)) == 1 }", "[]byte(g.token)) >= 0 }", "./report/page"},
	{"a page of the same site is let through", "report/page/guard.go", "return http.NewCrossOriginProtection()", "return site == \"same-site\" || http.NewCrossOriginProtection()", "./report/page"},
	{"what another page reads is let through", "report/page/guard.go", "as.Method = http.MethodPost", "", "./report/page"},
	{"the page's content policy opened", "report/page/guard.go", "default-src 'self'; img-src", "default-src *; img-src", "./report/page"},
	{"another page's request is let through", "report/page/guard.go", "if !origin(r) {", "if false {", "./report/page"},
	{"a foreign name of this machine is let through", "report/page/guard.go", "if !g.host(r) {", "if false {", "./report/page"},
	{"the picture 3 % narrower", "geom/camera.go", "px.X < float64(c.Width)-0.5", "px.X < 0.97*float64(c.Width)-0.5", "./geom"},
	{"the picture 3 % lower", "geom/camera.go", "px.Y < float64(c.Height)-0.5", "px.Y < 0.97*float64(c.Height)-0.5", "./geom"},
}
