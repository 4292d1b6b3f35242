'use strict';
// The page says everything without this script, and can be answered without it: by mail, by telephone, on paper. With it,
// stones are seen through a slider, and answers, notes and marks are gathered into one file, signed in this page where the
// browser can. Nothing is sent.
(() => {
  const told = JSON.parse(document.getElementById('told').textContent);
  const words = told.words;
  const fill = (text, places) => text.replace(/\{(\w+)\}/g, (_, name) => places[name] ?? '');
  const make = (name, put = {}, ...inside) => {
    const made = document.createElement(name);
    for (const [key, value] of Object.entries(put)) {
      if (key in made && key !== 'list') made[key] = value;
      else made.setAttribute(key, value);
    }
    made.append(...inside);
    return made;
  };
  const labelled = (text, field) => make('p', { className: 'field' }, make('label', { htmlFor: field.id }, text), field);

  // --- the slider over the re-lit pictures ---
  document.querySelectorAll('.looks').forEach((looks, at) => {
    const shown = [...looks.querySelectorAll('li')].sort((a, b) => a.dataset.k - b.dataset.k);
    if (shown.length < 2) return;
    const range = make('input', { type: 'range', id: `slide${at}`, min: 0, max: shown.length - 1, step: 1 });
    range.value = shown.findIndex(one => one.classList.contains('asked'));
    const show = () => {
      shown.forEach((one, n) => one.classList.toggle('shown', n === +range.value));
      range.setAttribute('aria-valuetext', shown[range.value].querySelector('figcaption').textContent);
    };
    const stops = make('ul', { className: 'stops', 'aria-hidden': 'true' });
    shown.forEach(one => stops.append(make('li', { className: one.className }, one.dataset.k)));
    const label = make('label', { htmlFor: range.id, className: 'small' }, looks.dataset.slide);
    looks.querySelector('ol').after(make('div', { className: 'slide' }, label, range, stops));
    looks.classList.add('live');
    range.addEventListener('input', show);
    show();
  });

  // --- the answer to each question, its note, and marks on its drawings ---
  const questions = [...document.querySelectorAll('.answer')].map((box, at) => {
    const place = box.closest('section.q, details');
    const heading = place.querySelector('h2, summary bdi').textContent;
    const question = { box, heading, code: box.dataset.code, open: place.matches('.q'), marks: [], answer: '' };
    const legend = box.querySelector('h3');
    const choices = make('fieldset', { className: 'choices' }, make('legend', {}, legend.textContent));
    legend.remove();
    box.querySelectorAll('.mail li').forEach((one, n) => {
      const radio = make('input', { type: 'radio', name: `answer${at}`, value: told.answers[n] });
      radio.addEventListener('change', () => { question.answer = radio.value; recount(); });
      const text = make('span', {}, make('b', {}, one.querySelector('b').textContent), ' ', one.querySelector('span').textContent);
      choices.append(make('label', {}, radio, text));
    });
    question.note = make('textarea', { id: `note${at}`, rows: 2, maxLength: 2000, dir: 'auto' });
    const mail = box.querySelector('.mail');
    const instead = make('details', { className: 'instead' }, make('summary', {}, words.byMail));
    mail.replaceWith(choices, labelled(words.note, question.note));
    place.querySelectorAll('.sheet').forEach(sheet => sheet.after(marksOf(question, sheet, at)));
    instead.append(mail);
    box.append(instead);
    return question;
  });

  function marksOf(question, sheet, at) {
    const drawing = sheet.querySelector('svg');
    const [, , width, height] = drawing.getAttribute('viewBox').split(' ').map(Number);
    const number = +sheet.dataset.sheet;
    const list = make('ol', { className: 'marks' });
    const add = make('button', { type: 'button' }, fill(words.addMark, { n: number }));
    let chosen = null;
    const svg = (name, put) => {
      const made = document.createElementNS(drawing.namespaceURI, name);
      Object.entries(put).forEach(([key, value]) => made.setAttribute(key, value));
      return made;
    };
    const renumber = () => {
      let n = 0;
      question.marks.forEach(mark => {
        mark.title.textContent = fill(words.mark, { n: ++n });
        mark.sign.lastChild.textContent = n;
        mark.remove.textContent = fill(words.removeMark, { n });
      });
    };
    const place = (mark, x, y) => {
      mark.x = Math.min(width, Math.max(0, Math.round(x)));
      mark.y = Math.min(height, Math.max(0, Math.round(y)));
      mark.sign.setAttribute('transform', `translate(${mark.x} ${mark.y})`);
      if (+mark.left.value !== mark.x) mark.left.value = mark.x;
      if (+mark.top.value !== mark.y) mark.top.value = mark.y;
    };
    const choose = mark => {
      chosen = mark;
      question.marks.forEach(other => other.sign.classList.toggle('chosen', other === mark));
      sheet.classList.toggle('marking', !!mark);
    };
    add.addEventListener('click', () => {
      const id = `mark${at}-${number}-${Date.now()}`;
      const figure = (name, most) => make('input', { type: 'number', id: id + name, min: 0, max: most, step: 1 });
      const mark = { sheet: number, left: figure('x', width), top: figure('y', height) };
      mark.text = make('textarea', { id: id + 't', rows: 2, maxLength: 500, dir: 'auto' });
      mark.title = make('b');
      mark.remove = make('button', { type: 'button' });
      mark.sign = svg('g', { class: 'mark' });
      mark.sign.append(svg('circle', { r: 4 }), svg('text', { y: 1.6, 'text-anchor': 'middle', 'font-size': 4.5 }));
      drawing.append(mark.sign);
      const item = make('li', {}, mark.title, labelled(words.markText, mark.text),
        make('p', { className: 'small' }, words.markHelp),
        make('div', { className: 'two' }, labelled(words.fromLeft, mark.left), labelled(words.fromTop, mark.top)), mark.remove);
      item.addEventListener('focusin', () => choose(mark));
      for (const field of [mark.left, mark.top]) {
        field.addEventListener('change', () => place(mark, +mark.left.value, +mark.top.value));
      }
      mark.remove.addEventListener('click', () => {
        question.marks.splice(question.marks.indexOf(mark), 1);
        mark.sign.remove();
        item.remove();
        choose(null);
        renumber();
        add.focus();
      });
      question.marks.push(mark);
      list.append(item);
      place(mark, width / 2, height / 4);
      renumber();
      mark.text.focus();
    });
    drawing.addEventListener('click', event => {
      if (!chosen) return;
      const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(drawing.getScreenCTM().inverse());
      place(chosen, at.x, at.y);
      chosen.text.focus({ preventScroll: true });
    });
    return make('div', { className: 'marking' }, list, add);
  }

  // --- signatures in ssh's format (OpenSSH's PROTOCOL.sshsig), as `ssh-keygen -Y sign` writes them ---
  const subtle = globalThis.crypto?.subtle;
  const curve = { name: 'ECDSA', namedCurve: 'P-256' };
  const ecdsa = { name: 'ECDSA', hash: 'SHA-256' };
  const bytes = {
    join: (...parts) => Uint8Array.from(parts.flatMap(part => [...part])),
    of: text => new TextEncoder().encode(text),
    number: n => [n >>> 24, n >>> 16 & 255, n >>> 8 & 255, n & 255],
    string: part => bytes.join(bytes.number(part.length), part),
    text: text => bytes.string(bytes.of(text)),
    // A whole number above 0 (RFC 4251, section 5): no needless zero, and one where the first bit is set.
    whole: part => {
      const start = part.findIndex(byte => byte !== 0);
      const short = part.slice(start);
      return bytes.string(short[0] & 128 ? bytes.join([0], short) : short);
    },
    pair: raw => bytes.string(bytes.join(bytes.whole(raw.slice(0, 32)), bytes.whole(raw.slice(32)))),
    base64: part => btoa(String.fromCharCode(...part)),
    hash: async (name, part) => new Uint8Array(await subtle.digest(name, part)),
    random: length => crypto.getRandomValues(new Uint8Array(length)),
  };
  const print = async blob => 'SHA256:' + bytes.base64(await bytes.hash('SHA-256', blob)).replace(/=+$/, '');
  // What a signature is over, and the whole of it as text.
  const sealed = async (space, message) => bytes.join(bytes.of('SSHSIG'), bytes.text(space), bytes.number(0), bytes.text('sha512'),
    bytes.string(await bytes.hash('SHA-512', message)));
  const armour = (blob, space, value) => {
    const whole = bytes.join(bytes.of('SSHSIG'), bytes.number(1), bytes.string(blob), bytes.text(space), bytes.number(0),
      bytes.text('sha512'), bytes.string(value));
    return `-----BEGIN SSH SIGNATURE-----\n${bytes.base64(whole).match(/.{1,70}/g).join('\n')}\n-----END SSH SIGNATURE-----\n`;
  };
  // With a key that is made in this page.
  let key = null;
  async function publicPart() {
    key ??= await subtle.generateKey(curve, false, ['sign', 'verify']);
    const point = new Uint8Array(await subtle.exportKey('raw', key.publicKey));
    const blob = bytes.join(bytes.text('ecdsa-sha2-nistp256'), bytes.text('nistp256'), bytes.string(point));
    return { blob, print: await print(blob) };
  }
  async function signature(message, blob) {
    const space = 'underlit-packet';
    const raw = new Uint8Array(await subtle.sign(ecdsa, key.privateKey, await sealed(space, message)));
    return armour(blob, space, bytes.join(bytes.text('ecdsa-sha2-nistp256'), bytes.pair(raw)));
  }

  // --- a passkey: the reader's own signature (W3C Web Authentication; OpenSSH's PROTOCOL.u2f, "webauthn signatures") ---
  const here = location.hostname;
  const able = !!subtle && !!globalThis.PublicKeyCredential && /^https?:$/.test(location.protocol) &&
    (here === 'localhost' || /\.[^.]*[a-z][^.]*$/.test(here));
  const type = 'sk-ecdsa-sha2-nistp256@openssh.com';
  const known = told.passkeys.map(line => {
    const blob = Uint8Array.from(atob(line.split(' ')[1]), one => one.charCodeAt(0));
    const parts = [];
    for (let at = 0; at < blob.length; at += 4 + parts.at(-1).length) {
      parts.push(blob.slice(at + 4, at + 4 + new DataView(blob.buffer).getUint32(at)));
    }
    return { blob, point: parts[2], site: new TextDecoder().decode(parts[3]) };
  });
  const mine = known.filter(one => able && (here === one.site || here.endsWith('.' + one.site)));

  // The statement that `underlit sign` would make: what the shop's program drafted, and what its signer adds.
  const clean = text => text.replace(/[\u0000-\u0008\u000b-\u001f\u007f-\u009f\u202a-\u202e\u2066-\u2069]/g, '').trim();
  function statement(one) {
    const marks = one.marks.map((mark, n) =>
      fill(told.mark, { n: n + 1, sheet: mark.sheet, left: mark.x, top: mark.y, note: clean(mark.text.value) }));
    const said = [...new Set([clean(one.note.value), ...marks])].filter(text => text);
    const noted = one.answer === 'approved-as-noted';
    const draft = JSON.parse(told.statements[one.code]);
    return {
      ...draft,
      decision: one.answer,
      comment: noted || !said.length ? undefined : said.join('\n'),
      notes: noted ? said : undefined,
      edition: noted || one.answer === 'approved' ? undefined : draft.edition,
    };
  }
  async function signOwn(one) {
    const draft = statement(one);
    const said = JSON.stringify(draft);
    const nonce = [...bytes.random(16)].map(byte => byte.toString(16).padStart(2, '0')).join('');
    const text = JSON.stringify({ ...draft, time: new Date().toISOString().slice(0, 19) + 'Z', nonce }, null, 2) + '\n';
    const space = `underlit-${draft.role}`;
    const challenge = await sealed(space, bytes.of(text));
    const { site } = mine[0];
    const { response } = await navigator.credentials.get({ publicKey: { challenge, rpId: site, userVerification: 'required' } });
    const [device, client, der] = [response.authenticatorData, response.clientDataJSON, response.signature].map(part => new Uint8Array(part));
    // Two numbers in DER, each to 32 bytes.
    const first = der.slice(4, 4 + der[3]);
    const half = number => bytes.join(new Uint8Array(32), number).slice(-32);
    const raw = bytes.join(half(first), half(der.slice(6 + first.length)));
    const signed = bytes.join(device, await bytes.hash('SHA-256', client));
    const value = bytes.join(bytes.text(`webauthn-${type}`), bytes.pair(raw), device.slice(32, 37), bytes.text(location.origin),
      bytes.string(client), bytes.string(device.slice(37)));
    for (const one of mine.filter(one => one.site === site)) {
      const made = await subtle.importKey('raw', one.point, curve, false, ['verify']);
      if (await subtle.verify(ecdsa, made, raw, signed)) return { said, statement: text, signature: armour(one.blob, space, value) };
    }
    throw new Error(words.otherPasskey);
  }
  async function enrol() {
    const day = new Date().toISOString().slice(0, 10);
    const made = await navigator.credentials.create({ publicKey: {
      rp: { id: here, name: told.shop },
      user: { id: bytes.random(32), name: `${told.person} ${day}`, displayName: told.reader },
      challenge: bytes.random(32),
      pubKeyCredParams: [{ type: 'public-key', alg: -7 }],
      authenticatorSelection: { residentKey: 'required', requireResidentKey: true, userVerification: 'required' },
      attestation: 'none',
    } });
    const whole = await subtle.importKey('spki', made.response.getPublicKey(), curve, true, ['verify']);
    const point = new Uint8Array(await subtle.exportKey('raw', whole));
    const blob = bytes.join(bytes.text(type), bytes.text('nistp256'), bytes.string(point), bytes.text(here));
    const digest = await bytes.hash('SHA-256', blob);
    // Five bytes each, as a number, to its last five digits.
    const digits = [0, 5, 10, 15, 20].map(at =>
      String(digest.slice(at, at + 5).reduce((n, byte) => n * 256 + byte, 0) % 100000).padStart(5, '0'));
    return { line: `${type} ${bytes.base64(blob)} ${told.person}@${here}\n`, print: await print(blob), digits: digits.join(' ') };
  }

  function download(file, name) {
    const link = make('a', { href: URL.createObjectURL(new Blob([file], { type: 'text/plain' })), download: name });
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 60000);
  }

  function passkeyPart() {
    const button = make('button', { type: 'button' }, words.passkeyMake);
    const wrong = make('p', { role: 'alert', className: 'wrong' });
    const result = make('div');
    button.addEventListener('click', async () => {
      button.disabled = true;
      wrong.textContent = '';
      try {
        const made = await enrol();
        const file = `${told.person}-passkey.pub`;
        download(made.line, file);
        const saved = make('p', { tabIndex: -1, className: 'saved' }, fill(words.passkeyMade, { file, rep: told.rep }));
        const line = make('textarea', { id: 'passkey-line', readOnly: true, rows: 4, value: made.line, dir: 'ltr' });
        result.replaceChildren(saved, make('p', { className: 'digits', dir: 'ltr' }, made.digits), make('p', {}, words.passkeyThen),
          make('details', {}, make('summary', {}, words.copy),
            make('label', { htmlFor: line.id }, fill(words.passkeyLine, { site: here })), line,
            make('p', { className: 'small' }, make('code', {}, made.print))));
        saved.focus();
      } catch (error) {
        wrong.textContent = `${words.failed} ${error.message}`;
      }
      button.disabled = false;
    });
    return make('details', { className: 'passkey' }, make('summary', {}, words.passkey),
      make('p', {}, fill(words.passkeyAbout, { rep: told.rep })), button, wrong, result);
  }

  // --- who answers, and the file to send back ---
  const finish = make('section', { id: 'finish', className: 'finish', 'aria-labelledby': 'finish-h' });
  const field = (id, put) => make('input', { id, maxLength: 80, dir: 'auto', ...put });
  const today = new Date();
  const two = n => String(n).padStart(2, '0');
  const who = {
    name: field('who-name', { value: told.reader, autocomplete: 'name' }),
    role: field('who-role', { value: told.role }),
    date: field('who-date', { type: 'date', value: `${today.getFullYear()}-${two(today.getMonth() + 1)}-${two(today.getDate())}` }),
    typed: field('who-typed', { autocomplete: 'off' }),
  };
  const pad = make('canvas', { width: 600, height: 160, role: 'img', 'aria-label': words.drawn });
  const pen = pad.getContext('2d');
  let strokes = [];
  let pressed = false;
  const point = event => {
    const box = pad.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top].map((v, n) => Math.round(v * (n ? 160 / box.height : 600 / box.width)));
  };
  const wipe = () => {
    pen.fillStyle = '#fff';
    pen.fillRect(0, 0, 600, 160);
    pen.lineWidth = 2.5;
    pen.lineCap = pen.lineJoin = 'round';
    strokes = [];
  };
  pad.addEventListener('pointerdown', event => {
    pad.setPointerCapture(event.pointerId);
    pressed = true;
    strokes.push([point(event)]);
  });
  pad.addEventListener('pointermove', event => {
    if (!pressed || strokes.flat().length > 1500) return;
    const stroke = strokes.at(-1);
    const [from, to] = [stroke.at(-1), point(event)];
    stroke.push(to);
    pen.beginPath();
    pen.moveTo(...from);
    pen.lineTo(...to);
    pen.stroke();
  });
  ['pointerup', 'pointercancel'].forEach(name => pad.addEventListener(name, () => { pressed = false; }));
  wipe();
  const clear = make('button', { type: 'button' }, words.clearDrawn);
  clear.addEventListener('click', wipe);

  const own = mine.length ? make('button', { type: 'button', className: 'main' }, words.signPasskey) : null;
  const save = make('button', { type: 'button', className: own ? '' : 'main' }, own ? words.savePlain : subtle ? words.sign : words.save);
  const wrong = make('p', { role: 'alert', className: 'wrong' });
  const progress = make('p', { role: 'status', className: 'small' });
  const receipt = make('div', { className: 'receipt' });
  const count = make('span', { role: 'status' });
  finish.append(
    make('h2', { id: 'finish-h' }, words.finish),
    labelled(words.name, who.name), labelled(words.role, who.role), labelled(words.date, who.date), labelled(words.typed, who.typed),
    make('p', { className: 'field' }, make('span', {}, words.drawn), pad), clear,
    ...(subtle ? [] : [make('p', { className: 'small' }, words.notSigned)]),
    make('p', { className: 'small' }, words.quiet),
    ...(known.length && !own ? [make('p', { className: 'small' }, fill(words.passkeyElsewhere, { site: known[0].site }))] : []),
    ...(own ? [own, ' '] : []), save, wrong, progress, receipt);
  const asked = questions.filter(one => one.open);
  const anchor = [...document.querySelectorAll('section.q')].at(-1);
  if (anchor) {
    anchor.after(finish);
    document.querySelector('footer').after(make('div', { className: 'bar' },
      make('p', {}, count, make('a', { href: '#finish' }, words.finishLink))));
  }
  if (able) (anchor ? finish : document.querySelector('main')).append(passkeyPart());
  function recount() {
    const done = asked.filter(one => one.answer).length;
    count.textContent = fill(words.count, { n: done, of: asked.length });
    wrong.textContent = '';
  }
  recount();

  // A file that any mail program leaves as it is: letters of ASCII alone.
  const ascii = text => text.replace(/[\u007f-\uffff]/g, c => '\\u' + c.charCodeAt(0).toString(16).padStart(4, '0'));

  function complaint() {
    const given = questions.filter(one => one.answer);
    if (!given.length) return [words.nothing, questions[0].box.querySelector('input')];
    const bare = given.find(one => one.answer !== 'approved' && !one.note.value.trim() && !one.marks.some(m => m.text.value.trim()));
    if (bare) return [fill(words.noteMissing, { question: bare.heading }), bare.note];
    const empty = given.flatMap(one => one.marks).find(mark => !mark.text.value.trim());
    if (empty) return [words.markMissing, empty.text];
    for (const [name, missing] of [['name', words.nameMissing], ['date', words.dateMissing], ['typed', words.typedMissing]]) {
      if (!who[name].value.trim()) return [missing, who[name]];
    }
    return null;
  }

  // Signs each answer with the passkey; false where the device did not.
  async function signAll(given) {
    const done = () => given.filter(one => one.own?.said === JSON.stringify(statement(one))).length;
    for (const one of given) {
      if (one.own?.said === JSON.stringify(statement(one))) continue;
      progress.textContent = fill(words.passkeyCount, { n: done(), of: given.length });
      try {
        one.own = await signOwn(one);
      } catch (error) {
        if (error.name !== 'NotAllowedError') throw error;
        wrong.textContent = fill(words.passkeyStopped, { n: done(), of: given.length });
        return false;
      }
    }
    progress.textContent = '';
    return true;
  }

  async function finishWith(passkey) {
    const found = complaint();
    wrong.textContent = found ? found[0] : '';
    document.querySelectorAll('[aria-invalid]').forEach(one => one.removeAttribute('aria-invalid'));
    if (found) {
      found[1].setAttribute('aria-invalid', 'true');
      found[1].focus();
      return;
    }
    const buttons = [save, ...(own ? [own] : [])];
    buttons.forEach(one => { one.disabled = true; });
    try {
      const given = questions.filter(one => one.answer);
      if (!passkey || await signAll(given)) await hand(given, passkey);
    } catch (error) {
      wrong.textContent = `${words.failed} ${error.message}`;
    }
    buttons.forEach(one => { one.disabled = false; });
  }
  save.addEventListener('click', () => finishWith(false));
  own?.addEventListener('click', () => finishWith(true));

  async function hand(given, passkey) {
    const made = subtle ? await publicPart() : null;
    const answer = {
      underlit_answer: 1,
      book: told.book,
      project: told.project,
      name: who.name.value.trim(),
      role: who.role.value.trim(),
      date: who.date.value,
      signed: who.typed.value.trim(),
      drawn: strokes.map(stroke => 'M' + stroke.map(at => at.join(' ')).join('L')).join(''),
      key: made ? made.print : null,
      answers: given.map(one => ({
        code: one.code,
        question: one.heading,
        answer: one.answer,
        note: one.note.value.trim(),
        marks: one.marks.map(mark => ({ sheet: mark.sheet, left_mm: mark.x, top_mm: mark.y, note: mark.text.value.trim() })),
        statement: passkey ? one.own.statement : undefined,
        signature: passkey ? one.own.signature : undefined,
      })),
    };
    const message = ascii(JSON.stringify(answer, null, 2)) + '\n';
    show(answer, made ? message + await signature(bytes.of(message), made.blob) : message, passkey);
  }

  function show(answer, file, passkey) {
    const name = `${told.project}-answer.txt`;
    download(file, name);
    const print = make('button', { type: 'button' }, words.print);
    print.addEventListener('click', () => {
      document.documentElement.classList.add('only-receipt');
      window.print();
      document.documentElement.classList.remove('only-receipt');
    });
    const text = make('textarea', { id: 'whole', readOnly: true, rows: 6, value: file, dir: 'ltr' });
    const titles = Object.fromEntries(told.answers.map((one, n) => [one, told.titles[n]]));
    const marks = one => one.marks.map((mark, n) => make('li', {}, `${fill(words.mark, { n: n + 1 })}: `, make('bdi', {}, mark.note)));
    const rows = answer.answers.map(one => make('li', {},
      make('b', {}, titles[one.answer]), ' · ', make('bdi', {}, one.question), ' ', make('code', {}, one.code),
      make('br'), make('bdi', {}, one.note), make('ul', {}, ...marks(one))));
    const saved = make('p', { tabIndex: -1, className: 'saved' }, fill(words.saved, { file: name, rep: told.rep }));
    receipt.replaceChildren(saved,
      make('h3', {}, words.receipt), make('ul', {}, ...rows),
      make('p', {}, make('bdi', {}, answer.name), ', ', make('bdi', {}, answer.role), ', ', answer.date, '. ', words.typedAs, ' ', make('bdi', { className: 'typed' }, answer.signed)),
      ...(answer.drawn ? [make('img', { src: pad.toDataURL('image/png'), alt: words.drawn, className: 'drawn' })] : []),
      ...(passkey ? [make('p', {}, fill(words.ownSigned, { page: location.origin }))] : []),
      make('p', { className: 'small' }, answer.key ? fill(words.signedWith, { key: answer.key }) : words.unsigned),
      print, make('details', {}, make('summary', {}, words.copy), make('label', { htmlFor: 'whole' }, words.whole), text));
    saved.focus();
  }
})();
