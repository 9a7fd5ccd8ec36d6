/** How the page looks; light and dark by what the reader's system says. */
export const STYLE = `
:root{color-scheme:light dark;--ground:#f6f4ef;--card:#fff;--ink:#1d2327;--soft:#5a646b;--line:#c9c5ba;--cut:#8a949a;--mark:#b3261e;--go:#0b5d57;--on-go:#fff;--ask:#7a4a00}
@media (prefers-color-scheme:dark){:root{--ground:#15191b;--card:#1f2528;--ink:#eceff0;--soft:#a9b4b9;--line:#485257;--cut:#7d8a90;--mark:#ff8a7a;--go:#7fd6cd;--on-go:#08211f;--ask:#ffc46b}}
*{box-sizing:border-box}
body{margin:0;background:var(--ground);color:var(--ink);font:16px/1.45 system-ui,sans-serif}
header,main{max-width:1280px;margin:0 auto;padding:12px 16px}
h1{font-size:1.15rem;margin:0}
header p{margin:2px 0 0;color:var(--soft)}
progress{width:100%;height:8px;accent-color:var(--go)}
main{display:grid;gap:14px}
section{background:var(--card);border:1px solid var(--line);border-radius:6px;padding:14px}
#task h2{margin:0 0 4px;font-size:1.3rem}
#say{margin:0 0 4px;font-size:1.05rem}
#where{margin:0 0 10px;color:var(--soft)}
label{display:block;font-weight:600;margin:8px 0 5px}
input{font:inherit;width:100%;padding:10px;border:1px solid var(--soft);border-radius:4px;background:var(--ground);color:var(--ink)}
#value{font-size:1.4rem}
:focus-visible{outline:3px solid var(--go);outline-offset:2px}
#answer{min-height:1.5em;margin:6px 0;font-weight:600;color:var(--ask)}
.row{display:flex;flex-wrap:wrap;gap:8px}
button{font:inherit;padding:9px 14px;border:1px solid var(--soft);border-radius:4px;background:transparent;color:var(--ink);cursor:pointer;min-height:44px}
button.go{background:var(--go);border-color:var(--go);color:var(--on-go);font-weight:600}
svg{display:block;width:100%;background:var(--ground);border:1px solid var(--line)}
#near{max-height:300px}
#whole{max-height:420px;margin-top:10px}
.cut{fill:var(--cut)}
.mark{stroke:var(--mark);fill:none}
.spot{stroke:var(--mark);fill:none}
details{margin-top:12px}
.form{display:grid;grid-template-columns:repeat(auto-fill,minmax(150px,1fr));gap:8px;margin-top:8px}
.form input{padding:6px}
#help{color:var(--soft);font-size:.92rem;margin:10px 0 0}
@media (min-width:820px){main{grid-template-columns:minmax(340px,2fr) 3fr;align-items:start}#task{position:sticky;top:12px}#near{max-height:360px}}
@media (max-width:819px){#place{order:-1;display:grid;grid-template-columns:3fr 2fr;gap:8px;padding:8px}#near,#whole{height:130px;margin:0}header{padding-bottom:0}}
`;
