"""The styles of a report: one column on a phone, A4 on paper. Black on white in both, as what is printed is."""

STYLE = """
:root { color-scheme: light; }
body { font: 16px/1.45 system-ui, sans-serif; color: #111; background: #fff; margin: 0 auto; max-width: 52rem;
  padding: 1rem; }
header p, footer p { margin: .2rem 0; color: #444; }
h1 { font-size: 1.6rem; margin: .2rem 0; }
h2 { font-size: 1.15rem; margin: 1.6rem 0 .4rem; border-bottom: 2px solid #111; }
p { margin: .4rem 0; overflow-wrap: anywhere; }
.warns { border: 2px solid #111; padding: .4rem .6rem; }
dl { display: grid; grid-template-columns: minmax(7rem, max-content) 1fr; gap: .15rem 1rem; margin: .4rem 0; }
dt { font-weight: 600; }
dd { margin: 0; overflow-wrap: anywhere; }
.wide { overflow-x: auto; }
table { border-collapse: collapse; width: 100%; margin: .6rem 0; font-size: .85rem;
  font-variant-numeric: tabular-nums; }
caption { text-align: left; font-weight: 600; padding: .2rem 0; }
th, td { text-align: left; vertical-align: top; padding: .2rem .5rem .2rem 0; border-bottom: 1px solid #bbb; }
figure { margin: .6rem 0; }
figure svg { width: 100%; height: auto; }
figcaption { font-size: .85rem; color: #444; }
@page { size: A4; margin: 16mm 14mm; }
@media print {
  body { font-size: 10pt; max-width: none; padding: 0; }
  .wide { overflow: visible; }
  thead { display: table-header-group; }
  tr, figure, .warns { break-inside: avoid; }
  h2, caption { break-after: avoid; }
}
"""
