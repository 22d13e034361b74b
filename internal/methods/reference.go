package methods

import (
	"strings"
)

// Reference is one work that the methods section cites. Kind is BibTeX's:
// article, book, techreport or misc.
type Reference struct {
	Key, Kind, Author, Year, Title    string
	Journal, Volume, Pages, Publisher string
	Note                              string
}

// works are all that may be cited, from memory as docs/methods gives them.
var works = []Reference{
	{Key: "wilson1927", Kind: "article", Author: "Wilson, E. B.", Year: "1927", Title: "Probable inference, the law of succession, and statistical inference", Journal: "Journal of the American Statistical Association", Volume: "22", Pages: "209–212"},
	{Key: "clopper1934", Kind: "article", Author: "Clopper, C. J. and Pearson, E. S.", Year: "1934", Title: "The use of confidence or fiducial limits illustrated in the case of the binomial", Journal: "Biometrika", Volume: "26", Pages: "404–413"},
	{Key: "brown2001", Kind: "article", Author: "Brown, L. D. and Cai, T. T. and DasGupta, A.", Year: "2001", Title: "Interval estimation for a binomial proportion", Journal: "Statistical Science", Volume: "16", Pages: "101–133"},
	{Key: "kaplan1958", Kind: "article", Author: "Kaplan, E. L. and Meier, P.", Year: "1958", Title: "Nonparametric estimation from incomplete observations", Journal: "Journal of the American Statistical Association", Volume: "53", Pages: "457–481"},
	{Key: "turnbull1976", Kind: "article", Author: "Turnbull, B. W.", Year: "1976", Title: "The empirical distribution function with arbitrarily grouped, censored and truncated data", Journal: "Journal of the Royal Statistical Society B", Volume: "38", Pages: "290–295"},
	{Key: "korn1998", Kind: "article", Author: "Korn, E. L. and Graubard, B. I.", Year: "1998", Title: "Confidence intervals for proportions with small expected number of positive counts estimated from survey data", Journal: "Survey Methodology", Volume: "24", Pages: "193–201"},
	{Key: "prentice1978", Kind: "article", Author: "Prentice, R. L. and Gloeckler, L. A.", Year: "1978", Title: "Regression analysis of grouped survival data with application to breast cancer data", Journal: "Biometrics", Volume: "34", Pages: "57–67"},
	{Key: "williams1975", Kind: "article", Author: "Williams, D. A.", Year: "1975", Title: "The analysis of binary responses from toxicological experiments involving reproduction and teratogenicity", Journal: "Biometrics", Volume: "31", Pages: "949–952"},
	{Key: "breslow1993", Kind: "article", Author: "Breslow, N. E. and Clayton, D. G.", Year: "1993", Title: "Approximate inference in generalized linear mixed models", Journal: "Journal of the American Statistical Association", Volume: "88", Pages: "9–25"},
	{Key: "pinheiro1995", Kind: "article", Author: "Pinheiro, J. C. and Bates, D. M.", Year: "1995", Title: "Approximations to the log-likelihood function in the nonlinear mixed-effects model", Journal: "Journal of Computational and Graphical Statistics", Volume: "4", Pages: "12–35"},
	{Key: "patterson1971", Kind: "article", Author: "Patterson, H. D. and Thompson, R.", Year: "1971", Title: "Recovery of inter-block information when block sizes are unequal", Journal: "Biometrika", Volume: "58", Pages: "545–554"},
	{Key: "noh2007", Kind: "article", Author: "Noh, M. and Lee, Y.", Year: "2007", Title: "REML estimation for binary data in GLMMs", Journal: "Journal of Multivariate Analysis", Volume: "98", Pages: "896–915"},
	{Key: "giesbrecht1985", Kind: "article", Author: "Giesbrecht, F. G. and Burns, J. C.", Year: "1985", Title: "Two-stage analysis based on a mixed model: large-sample asymptotic theory and small-sample simulation results", Journal: "Biometrics", Volume: "41", Pages: "477–486"},
	{Key: "davison1997", Kind: "book", Author: "Davison, A. C. and Hinkley, D. V.", Year: "1997", Title: "Bootstrap methods and their application", Publisher: "Cambridge University Press"},
	{Key: "robbins1970", Kind: "article", Author: "Robbins, H.", Year: "1970", Title: "Statistical methods related to the law of the iterated logarithm", Journal: "Annals of Mathematical Statistics", Volume: "41", Pages: "1397–1409"},
	{Key: "holm1979", Kind: "article", Author: "Holm, S.", Year: "1979", Title: "A simple sequentially rejective multiple test procedure", Journal: "Scandinavian Journal of Statistics", Volume: "6", Pages: "65–70"},
	{Key: "hothorn2008", Kind: "article", Author: "Hothorn, T. and Bretz, F. and Westfall, P.", Year: "2008", Title: "Simultaneous inference in general parametric models", Journal: "Biometrical Journal", Volume: "50", Pages: "346–363"},
	{Key: "firth1993", Kind: "article", Author: "Firth, D.", Year: "1993", Title: "Bias reduction of maximum likelihood estimates", Journal: "Biometrika", Volume: "80", Pages: "27–38"},
	{Key: "dunn1996", Kind: "article", Author: "Dunn, P. K. and Smyth, G. K.", Year: "1996", Title: "Randomized quantile residuals", Journal: "Journal of Computational and Graphical Statistics", Volume: "5", Pages: "236–244"},
	{Key: "wald1940", Kind: "article", Author: "Wald, A. and Wolfowitz, J.", Year: "1940", Title: "On a test whether two samples are from the same population", Journal: "Annals of Mathematical Statistics", Volume: "11", Pages: "147–162"},
	{Key: "moran1950", Kind: "article", Author: "Moran, P. A. P.", Year: "1950", Title: "Notes on continuous stochastic phenomena", Journal: "Biometrika", Volume: "37", Pages: "17–23"},
	{Key: "abbott1925", Kind: "article", Author: "Abbott, W. S.", Year: "1925", Title: "A method of computing the effectiveness of an insecticide", Journal: "Journal of Economic Entomology", Volume: "18", Pages: "265–267"},
}

// software is the program itself, cited by its version.
func software(version string) Reference {
	return Reference{Key: "soakline", Kind: "misc", Author: "{The Soakline developers}", Title: "Soakline: consumption rates from rows of baits", Note: "Version " + version}
}

// authors writes an author list of BibTeX for reading: "A, B & C".
func authors(list string) string {
	names := strings.Split(strings.Trim(list, "{}"), " and ")
	if len(names) == 1 {
		return names[0]
	}
	return strings.Join(names[:len(names)-1], ", ") + " & " + names[len(names)-1]
}

// Text is the reference as a line of a reference list.
func (r Reference) Text() string {
	var b strings.Builder
	b.WriteString(authors(r.Author))
	if r.Year != "" {
		b.WriteString(" (" + r.Year + ")")
	}
	b.WriteString(". " + r.Title + ".")
	switch {
	case r.Journal != "":
		b.WriteString(" " + r.Journal + " " + r.Volume + ": " + r.Pages + ".")
	case r.Publisher != "":
		b.WriteString(" " + r.Publisher + ".")
	}
	if r.Note != "" {
		b.WriteString(" " + r.Note + ".")
	}
	return b.String()
}

// Bib writes references as BibTeX, in the order of their keys as given.
func Bib(list []Reference) []byte {
	var b strings.Builder
	for i, r := range list {
		if i > 0 {
			b.WriteByte('\n')
		}
		b.WriteString("@" + r.Kind + "{" + r.Key + ",\n")
		field := func(name, value string) {
			if value != "" {
				b.WriteString("  " + name + " = {" + latex(value) + "},\n")
			}
		}
		field("author", r.Author)
		field("title", r.Title)
		field("journal", r.Journal)
		field("volume", r.Volume)
		field("pages", strings.ReplaceAll(r.Pages, "–", "--"))
		field("publisher", r.Publisher)
		field("year", r.Year)
		field("note", r.Note)
		b.WriteString("}\n")
	}
	return []byte(b.String())
}

// latex guards what LaTeX takes for a command; braces are the writer's own.
func latex(s string) string {
	return strings.NewReplacer(`\`, `\textbackslash `, "&", `\&`, "%", `\%`, "#", `\#`, "_", `\_`, "$", `\$`, "~", `\textasciitilde `, "^", `\textasciicircum `).Replace(s)
}
