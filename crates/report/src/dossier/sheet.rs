//! The style of the document: for the screen, and for A4 and Letter.

use super::DossierInput;
use crate::style::figure_stylesheet;

/// Everything in one sheet: the page's head and foot, the text, the drawings.
pub(super) fn sheet(input: &DossierInput) -> String {
    // Only hexadecimal digits and numbers from the study stand in the sheet: names could end a string of it.
    let method = input.input.method.hash.short();
    let (seq, head) = (input.history.anchor.seq, input.history.anchor.head);
    let page = format!(
        "@page{{margin:20mm 17mm 21mm;\
         @top-left{{content:\"Dossier · method {method}\";{HEAD}}}\
         @top-right{{content:\"as of record #{seq}\";{HEAD}}}\
         @bottom-left{{content:\"head {head}\";{HEAD}font-family:ui-monospace,monospace;font-size:6.5pt}}\
         @bottom-right{{content:counter(page) \" of \" counter(pages);{HEAD}}}}}\
         @page:first{{@top-left{{content:none}}@top-right{{content:none}}}}\n"
    );
    page + BODY + &figure_stylesheet()
}

const HEAD: &str = "font:8pt system-ui,sans-serif;color:#333;";

const BODY: &str = "\
:root{--ink:#1d2a2c;--soft:#4f5d5f;--line:#9aa3a3;--water:#17607f;--band:#eef1ee;--alarm:#a3211f}
*{box-sizing:border-box}
html{font:100%/1.42 system-ui,sans-serif;color:var(--ink);background:#fff}
body{margin:0 auto;max-width:52rem;padding:1.5rem;font-size:.9375rem;font-variant-numeric:tabular-nums lining-nums;overflow-wrap:anywhere}
h1,h2,h3,h4{font-family:ui-serif,Charter,Georgia,serif;font-weight:600;line-height:1.2;break-after:avoid;break-inside:avoid}
h1{font-size:2.1rem;margin:.3rem 0 .8rem}
h2{font-size:1.45rem;margin:2.2rem 0 .6rem;padding-top:.5rem;border-top:2px solid var(--ink)}
h3{font-size:1.1rem;margin:1.4rem 0 .4rem}
h4{font-size:1rem;margin:.9rem 0 .2rem}
p,ul{margin:.5rem 0;orphans:3;widows:3}
p{break-inside:avoid}
ul{padding-left:1.2rem}
a{color:var(--water)}
code{font:.85em/1.4 ui-monospace,monospace}
pre{border-left:3px solid var(--water);background:var(--band);padding:.5rem .7rem;white-space:pre-wrap;overflow-wrap:anywhere}
.hash{overflow-wrap:anywhere;font-size:.78em}
td .hash{display:inline-block;width:33ch}
td.word,tbody th{overflow-wrap:break-word}
.soft{color:var(--soft)}
.kind{color:var(--soft);margin-top:6vh}
.lead{font-size:1.1rem}
.answer{font-size:1.1rem;border-left:4px solid var(--ink);padding:.5rem .8rem;background:var(--band)}
.stamp{display:inline-block;border:2.5px solid var(--alarm);color:var(--alarm);padding:.2rem .5rem;text-transform:uppercase;letter-spacing:.05em}
.stamp.holds{border-color:var(--water);color:var(--water)}
.contents ol{columns:2;column-gap:2rem;padding-left:1.5rem}
.contents li{break-inside:avoid;margin:.15rem 0}
table{border-collapse:collapse;width:100%;font-size:.82rem;margin:.9rem 0 1.1rem;background:#fff}
caption{text-align:left;font-weight:600;padding:.2rem 0;break-after:avoid}
thead{display:table-header-group}
tr{break-inside:avoid}
thead{break-after:avoid}
tbody tr:first-child{break-before:avoid}
tbody tr:last-child{break-before:avoid}
h2+p,h3+p{break-after:avoid}
th,td{text-align:left;vertical-align:top;padding:.24rem .5rem .24rem 0;border-bottom:1px solid var(--line);overflow-wrap:break-word}
thead th{border-bottom:1.5px solid var(--ink);font-weight:600}
tbody th{font-weight:500}
td ul{margin:0;padding-left:1rem}
.num{text-align:right;white-space:nowrap}
thead .num{white-space:normal}
.whole{break-inside:avoid}
figure{margin:.8rem 0;break-inside:avoid}
figcaption{font-size:.82rem;color:var(--soft)}
.pair{display:grid;grid-template-columns:repeat(auto-fit,minmax(min(19rem,100%),1fr));gap:0 1rem;align-items:start}
dl{display:grid;grid-template-columns:minmax(8rem,max-content) minmax(0,1fr);gap:.15rem .9rem;margin:.5rem 0}
dt{color:var(--soft)}
dd{margin:0}
.check-words{break-inside:avoid}
.mind{border-left:4px solid var(--ink);padding:.2rem 0 .2rem 2rem}
@media print{
:root{--ink:#000;--soft:#333;--water:#000;--alarm:#000;--band:#fff}
body{max-width:none;padding:0;font-size:9.5pt}
table{font-size:8pt}
figcaption{font-size:8pt}
a{text-decoration:none}
.kind{margin-top:8mm}
.contents li{margin:.05rem 0}
.cover .check{break-inside:avoid}
.contents{break-inside:avoid}
#summary,#method,#calibrations,#samples,#ledger,#glossary{break-before:page}
.part+.part{break-before:page}
figure .sw{max-width:86mm}
.pair figure .sw{max-width:100%}
.pair{grid-template-columns:1fr 1fr}
}
";
