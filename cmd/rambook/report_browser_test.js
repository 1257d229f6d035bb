{
  // visible reports whether an element takes part in the page as it is shown.
  visible(element) {
    return element.getClientRects().length > 0 && getComputedStyle(element).visibility !== 'hidden';
  },

  // what says which element is meant.
  what(element) {
    return element.tagName.toLowerCase() + (element.className.baseVal ?? element.className ? '.' + (element.className.baseVal ?? element.className) : '') +
      ' "' + element.textContent.trim().slice(0, 50) + '"';
  },

  // overflow finds what is wider than the page. A table may scroll in a box of
  // its own, but not on paper.
  overflow() {
    const found = [], width = document.documentElement.clientWidth, paper = matchMedia('print').matches;
    if (document.documentElement.scrollWidth > width)
      found.push('the page is ' + document.documentElement.scrollWidth + ' px wide in a window of ' + width);
    for (const element of document.body.querySelectorAll('*')) {
      if (!this.visible(element) || element.closest('svg') && element.tagName !== 'text') continue;
      const box = element.closest('.scroll');
      if (box && box !== element && !paper) continue;
      const edge = element.getBoundingClientRect();
      if (edge.right > width + 1 || edge.left < -1) found.push(this.what(element) + ' reaches from ' + edge.left + ' to ' + edge.right + ' of ' + width);
    }
    return found;
  },

  // overlap finds texts of a chart that cover each other or leave the chart,
  // and table cells whose text is cut off.
  overlap() {
    const found = [];
    for (const svg of document.querySelectorAll('svg')) {
      if (!this.visible(svg)) continue;
      const frame = svg.getBoundingClientRect();
      const texts = [...svg.querySelectorAll('text')].map(text => ({label: text.textContent, edge: text.getBoundingClientRect()}));
      if (texts.length < 4) found.push('a chart has ' + texts.length + ' texts');
      texts.forEach(({label, edge}, i) => {
        if (edge.left < frame.left - 1 || edge.right > frame.right + 1 || edge.top < frame.top - 1 || edge.bottom > frame.bottom + 1)
          found.push('"' + label + '" leaves its chart');
        for (const other of texts.slice(i + 1)) {
          const wide = Math.min(edge.right, other.edge.right) - Math.max(edge.left, other.edge.left);
          const high = Math.min(edge.bottom, other.edge.bottom) - Math.max(edge.top, other.edge.top);
          // The box of a text is higher than its letters.
          if (wide > 0.5 && high > 0.2 * Math.min(edge.height, other.edge.height)) found.push('"' + label + '" covers "' + other.label + '"');
        }
      });
    }
    for (const cell of document.querySelectorAll('th, td'))
      if (this.visible(cell) && cell.scrollWidth > cell.clientWidth + 1) found.push(this.what(cell) + ' is cut off');
    return found;
  },

  // contrast measures every text against what it stands on (WCAG 2.2, 1.4.3).
  contrast() {
    const found = new Set();
    const parse = colour => (colour.match(/[\d.]+/g) ?? []).map(Number);
    const luminance = ([r, g, b]) => {
      const part = v => (v /= 255) <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4;
      return 0.2126 * part(r) + 0.7152 * part(g) + 0.0722 * part(b);
    };
    const ground = element => {
      for (; element; element = element.parentElement) {
        const colour = parse(getComputedStyle(element).backgroundColor);
        if (colour.length === 3 || colour[3] === 1) return colour;
      }
      return [255, 255, 255];
    };
    const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    let texts = 0;
    while (walker.nextNode()) {
      const element = walker.currentNode.parentElement;
      if (!walker.currentNode.data.trim() || !this.visible(element) || ['title', 'desc', 'style'].includes(element.tagName)) continue;
      const style = getComputedStyle(element);
      const [a, b] = [luminance(parse(element.tagName === 'text' ? style.fill : style.color)), luminance(ground(element))];
      const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
      texts++;
      if (!(ratio >= 4.5)) found.add(this.what(element) + ' has a contrast of ' + ratio.toFixed(2));
    }
    if (texts < 200) found.add('only ' + texts + ' texts were measured');
    return [...found];
  },

  // structure checks what people who cannot see the page go by.
  structure() {
    const found = [];
    if (document.documentElement.lang !== 'en') found.push('the page does not say its language');
    if (!document.title.trim()) found.push('the page has no title');
    let last = 0;
    for (const heading of document.querySelectorAll('h1, h2, h3, h4, h5, h6')) {
      const level = Number(heading.tagName[1]);
      if (level > last + 1) found.push(this.what(heading) + ' skips a level');
      if (!heading.textContent.trim()) found.push('an empty heading');
      last = level;
    }
    if (document.querySelectorAll('h1').length !== 1) found.push('there is not one h1');
    if (document.querySelectorAll('main').length !== 1) found.push('there is not one main');
    const ids = new Map();
    for (const element of document.querySelectorAll('[id]')) ids.set(element.id, (ids.get(element.id) ?? 0) + 1);
    for (const [id, n] of ids) if (n > 1) found.push('id ' + id + ' stands ' + n + ' times');
    for (const element of document.querySelectorAll('[aria-labelledby]'))
      for (const id of element.getAttribute('aria-labelledby').split(' ')) if (!ids.has(id)) found.push(this.what(element) + ' names the missing ' + id);
    for (const link of document.querySelectorAll('a')) {
      const target = link.getAttribute('href');
      if (!target.startsWith('#') || !ids.has(decodeURIComponent(target.slice(1)))) found.push('a link leads to ' + target);
    }
    for (const header of document.querySelectorAll('th')) if (!header.scope) found.push(this.what(header) + ' has no scope');
    for (const table of document.querySelectorAll('table'))
      if (!table.querySelector('thead th') || !table.querySelector('tbody')) found.push(this.what(table) + ' has no header');
    return found;
  },

  // names checks that what is no text has a name that can be read aloud.
  names() {
    const found = [];
    const named = element => element.getAttribute('aria-label')?.trim() ||
      element.getAttribute('aria-labelledby')?.split(' ').every(id => document.getElementById(id)?.textContent.trim());
    for (const element of document.querySelectorAll('svg, section, nav, table, [role=region], [tabindex]'))
      if (!named(element)) found.push(this.what(element) + ' has no name');
    for (const svg of document.querySelectorAll('svg')) {
      if (svg.getAttribute('role') !== 'img' || !svg.querySelector('title')?.textContent.trim() || !svg.querySelector('desc')?.textContent.trim())
        found.push('a chart does not say what it shows');
    }
    return found;
  },
}
